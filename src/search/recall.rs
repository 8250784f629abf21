//! Which entries hold the words at all: a tantivy index, made when the base is packed and opened from its bytes.

use super::asked::Asked;
use super::entry::EntryKind;
use super::error::SearchError;
use super::lexicon::{Lexicon, StemId};
use super::packed::Packed;
use std::path::Path;
use tantivy::collector::TopDocs;
use tantivy::directory::{Directory, RamDirectory};
use tantivy::indexer::SingleSegmentIndexWriter;
use tantivy::query::{BooleanQuery, BoostQuery, DisjunctionMaxQuery, Occur, Query, TermQuery};
use tantivy::schema::{Field, IndexRecordOption, STRING, Schema, TextFieldIndexing, TextOptions};
use tantivy::{DocId, Index, IndexReader, ReloadPolicy, Searcher, TantivyDocument, Term};

/// What the writer makes its first table of words from; the table grows by itself, and a larger one only takes time to
/// clear.
const WRITER_BYTES: usize = 2_000_000;
/// What a hit in a name is worth against one in a sentence.
const TITLE_BOOST: f32 = 2.0;
/// The file that names all others.
const META: &str = "meta.json";

/// The fields of the index.
#[derive(Clone, Copy, Debug)]
struct Fields {
    kind: Field,
    title: Field,
    body: Field,
}

impl Fields {
    fn of(schema: &Schema) -> Result<Self, SearchError> {
        let field = |name| schema.get_field(name);
        Ok(Self { kind: field("kind")?, title: field("title")?, body: field("body")? })
    }
}

/// Takes entries in.
pub struct Builder {
    fields: Fields,
    directory: RamDirectory,
    writer: SingleSegmentIndexWriter,
}

/// Tells which entries hold the words.
pub struct Recall {
    fields: Fields,
    searcher: Searcher,
}

impl Builder {
    /// An empty index.
    ///
    /// # Errors
    /// The index cannot be made.
    pub fn new() -> Result<Self, SearchError> {
        let mut schema = Schema::builder();
        // The words come as stems parted by blanks, each once: how often a word stands in an entry says little, and where
        // it stands is read on the wordings themselves.
        let indexing =
            TextFieldIndexing::default().set_tokenizer("whitespace").set_index_option(IndexRecordOption::Basic);
        let text = TextOptions::default().set_indexing_options(indexing);
        let fields = Fields {
            kind: schema.add_text_field("kind", STRING),
            title: schema.add_text_field("title", text.clone()),
            body: schema.add_text_field("body", text),
        };
        let index = Index::builder().schema(schema.build());
        let directory = RamDirectory::create();
        let writer = index.single_segment_index_writer(directory.clone(), WRITER_BYTES)?;
        Ok(Self { fields, directory, writer })
    }

    /// Adds the next entry; entries are numbered in the order in which they come.
    ///
    /// # Errors
    /// The index is out of memory.
    pub fn add(
        &mut self,
        kind: EntryKind,
        title: &[StemId],
        body: &[StemId],
        lexicon: &Lexicon,
    ) -> Result<(), SearchError> {
        let mut document = TantivyDocument::default();
        document.add_text(self.fields.kind, kind.word());
        document.add_text(self.fields.title, row(title, lexicon));
        document.add_text(self.fields.body, row(body, lexicon));
        Ok(self.writer.add_document(document)?)
    }

    /// The files of the finished index, by name.
    ///
    /// # Errors
    /// The index cannot be finished.
    pub fn finish(self) -> Result<Vec<(String, Vec<u8>)>, SearchError> {
        let index = self.writer.finalize()?;
        let mut files: Vec<(String, Vec<u8>)> = Vec::new();
        for path in index.load_metas()?.list_segment_files() {
            // Files that a segment without deleted entries does not have are listed all the same.
            if self.directory.exists(&path).unwrap_or(false) {
                let bytes = self.directory.open_read(&path).map_err(tantivy::TantivyError::from)?.read_bytes()?;
                files.push((path.to_string_lossy().into_owned(), bytes.to_vec()));
            }
        }
        let meta = self.directory.atomic_read(Path::new(META)).map_err(tantivy::TantivyError::from)?;
        files.push((META.to_owned(), meta));
        files.sort();
        Ok(files)
    }
}

fn row(stems: &[StemId], lexicon: &Lexicon) -> String {
    let mut out = String::with_capacity(stems.len() * 8);
    for stem in stems {
        out.push_str(lexicon.text(*stem));
        out.push(' ');
    }
    out
}

impl Recall {
    /// Opens the index that lies in these files.
    ///
    /// # Errors
    /// They are no index.
    pub fn open(files: &[(&str, &[u8])]) -> Result<Self, SearchError> {
        let directory = RamDirectory::create();
        for (name, bytes) in files {
            directory.atomic_write(Path::new(name), bytes)?;
        }
        let index = Index::open(directory)?;
        // Nothing is ever added later, so nothing needs to be watched.
        let reader: IndexReader = index.reader_builder().reload_policy(ReloadPolicy::Manual).try_into()?;
        Ok(Self { fields: Fields::of(&index.schema())?, searcher: reader.searcher() })
    }

    /// The entries that hold most of the words or what stands for them, with their BM25 scores.
    ///
    /// # Errors
    /// The index cannot be read.
    pub fn candidates(
        &self,
        asked: &Asked,
        kinds: &[EntryKind],
        packed: &Packed,
        most: usize,
    ) -> Result<Vec<(f32, DocId)>, SearchError> {
        let per_word: Vec<(Occur, Box<dyn Query>)> = (0..asked.terms.len())
            .filter_map(|t| self.any_answer(asked, t, packed))
            .map(|q| (Occur::Should, q))
            .collect();
        if per_word.is_empty() {
            return Ok(Vec::new());
        }
        let mut clauses: Vec<(Occur, Box<dyn Query>)> = vec![(Occur::Must, Box::new(BooleanQuery::new(per_word)))];
        if !kinds.is_empty() {
            let kinds = kinds.iter().map(|k| -> (Occur, Box<dyn Query>) {
                let term = Term::from_field_text(self.fields.kind, k.word());
                (Occur::Should, Box::new(TermQuery::new(term, IndexRecordOption::Basic)))
            });
            let kinds = BoostQuery::new(Box::new(BooleanQuery::new(kinds.collect())), 0.0);
            clauses.push((Occur::Must, Box::new(kinds)));
        }
        let found = self.searcher.search(&BooleanQuery::new(clauses), &TopDocs::with_limit(most).order_by_score())?;
        Ok(found.into_iter().map(|(score, address)| (score, address.doc_id)).collect())
    }

    /// The best of everything that may stand for a word.
    fn any_answer(&self, asked: &Asked, term: usize, packed: &Packed) -> Option<Box<dyn Query>> {
        let mut answers: Vec<Box<dyn Query>> = Vec::new();
        for (first, leads) in &asked.leads {
            for lead in leads.iter().filter(|l| l.from <= term && term < l.to) {
                let row: Vec<_> = std::iter::once(first).chain(&lead.tail).collect();
                if row.iter().any(|s| packed.entries_with_stem(**s) == 0) {
                    continue;
                }
                for (field, boost) in [(self.fields.title, TITLE_BOOST), (self.fields.body, 1.0)] {
                    let all = row.iter().map(|stem| -> (Occur, Box<dyn Query>) {
                        let term = Term::from_field_text(field, packed.stem_text(**stem));
                        (Occur::Must, Box::new(TermQuery::new(term, IndexRecordOption::Basic)))
                    });
                    #[expect(clippy::cast_precision_loss, reason = "words of a phrase")]
                    let boost = boost * lead.quality / row.len() as f32;
                    answers.push(Box::new(BoostQuery::new(Box::new(BooleanQuery::new(all.collect())), boost)));
                }
            }
        }
        (!answers.is_empty()).then(|| Box::new(DisjunctionMaxQuery::new(answers)) as Box<dyn Query>)
    }
}
