//! A first guess at which column is what, by the headers and a sample, written down for a person to check.

use super::cells::{DateOrder, amount, codes, possible_orders};
use super::mapping::{Draft, FIELDS};

/// Words in headers, in lower case, by field, in English, German, French and Spanish; earlier ones weigh more.
const WORDS: [(&str, &[&str]); 14] = [
    (
        "job",
        &[
            "job no",
            "job number",
            "job",
            "ro no",
            "order",
            "ticket",
            "invoice",
            "auftragsnummer",
            "auftrag",
            "rechnung",
            "commande",
            "facture",
            "dossier",
            "nº orden",
            "orden",
            "factura",
            "no.",
            "nr",
        ],
    ),
    (
        "date",
        &[
            "date in", "date", "datum", "fecha", "day", "received", "opened", "annahme", "eingang", "entrée",
            "entrada", "tag",
        ],
    ),
    (
        "codes",
        &[
            "dtc",
            "trouble code",
            "fault code",
            "fehlercode",
            "fehlerspeicher",
            "code défaut",
            "code defaut",
            "códigos",
            "código",
            "codigo",
            "codes",
            "code",
        ],
    ),
    (
        "cause",
        &[
            "cause",
            "ursache",
            "causa",
            "found",
            "diagnosis",
            "diagnose",
            "diagnostic",
            "diagnóstico",
            "diagnostico",
            "befund",
            "constat",
            "avería",
            "averia",
            "fault",
            "finding",
            "root",
            "what was wrong",
            "défaut",
            "fallo",
        ],
    ),
    ("make", &["make", "manufacturer", "brand", "marke", "hersteller", "marque", "marca"]),
    ("model", &["model", "modell", "modèle", "modele", "modelo"]),
    ("engine", &["engine", "motor", "moteur"]),
    ("year", &["model year", "year", "yr", "baujahr", "bj", "modelljahr", "année", "annee", "año", "ano"]),
    (
        "mileage",
        &[
            "mileage",
            "odometer",
            "odo",
            "miles",
            "kilometerstand",
            "laufleistung",
            "km-stand",
            "kilométrage",
            "kilometrage",
            "kilometraje",
            "kilómetros",
            "km",
        ],
    ),
    (
        "repair",
        &[
            "repair done",
            "work done",
            "repair",
            "fix",
            "action",
            "reparatur",
            "arbeiten",
            "réparation",
            "reparation",
            "travaux",
            "reparación",
            "reparacion",
            "trabajo",
        ],
    ),
    ("repair_time", &["repair hrs", "repair hours", "fix hrs", "repair time", "reparaturzeit", "temps de réparation"]),
    (
        "time",
        &[
            "total hrs",
            "hours",
            "hrs",
            "labour",
            "labor",
            "time",
            "minutes",
            "minuten",
            "minutos",
            "arbeitszeit",
            "stunden",
            "zeit",
            "heures",
            "temps",
            "horas",
            "tiempo",
        ],
    ),
    (
        "parts",
        &[
            "parts cost",
            "parts",
            "material",
            "teilepreis",
            "teile",
            "pièces",
            "pieces",
            "piezas",
            "recambios",
            "preis",
            "prix",
            "precio",
            "price",
        ],
    ),
    ("comeback_of", &["comeback", "came back", "return of", "redo", "reklamation", "retour", "devolución"]),
];

/// How many of these cells look like the header of a field: fields, not cells, so that a sentence does not count twice.
#[must_use]
pub fn looks_like_header(cells: &[&str]) -> usize {
    let cells: Vec<String> = cells.iter().filter(|c| c.chars().count() <= 40).map(|c| c.to_lowercase()).collect();
    let named = |words: &[&str]| cells.iter().any(|c| words.iter().any(|w| has_word(c, w)));
    WORDS.iter().filter(|(_, words)| named(words)).count().min(cells.len())
}

/// Whether a header holds a word; short words must stand alone, lest "nr" be found everywhere.
fn has_word(header: &str, word: &str) -> bool {
    if word.chars().count() > 3 {
        return header.contains(word);
    }
    let alone = |c: char| !c.is_alphanumeric();
    header.match_indices(word).any(|(i, w)| {
        header[..i].chars().next_back().is_none_or(alone) && header[i + w.len()..].chars().next().is_none_or(alone)
    })
}

/// Drafts a mapping from the header and some rows.
#[must_use]
pub fn draft(header: &[String], sample: &[Vec<String>]) -> Draft {
    let mut free: Vec<usize> = (0..header.len()).collect();
    let mut columns: Vec<(&'static str, Option<usize>)> = FIELDS.iter().map(|(f, _)| (*f, None)).collect();
    // Codes show themselves by what they are, whatever the column is called.
    let with_codes = |i: usize| sample.iter().filter(|r| r.get(i).is_some_and(|c| !codes(c).is_empty())).count();
    if let Some(best) =
        (0..header.len()).max_by_key(|i| (with_codes(*i), usize::MAX - i)).filter(|i| with_codes(*i) * 2 > sample.len())
    {
        columns.iter_mut().filter(|c| c.0 == "codes").for_each(|c| c.1 = Some(best));
        free.retain(|i| *i != best);
    }
    let mut found: Vec<(usize, usize, usize, &'static str)> = Vec::new();
    for (field, words) in WORDS {
        for (rank, word) in words.iter().enumerate() {
            for (i, h) in header.iter().enumerate() {
                let h = h.to_lowercase();
                if has_word(&h, word) {
                    found.push((rank, h.len() - word.len(), i, field));
                }
            }
        }
    }
    found.sort();
    for (_, _, i, field) in found {
        let Some(slot) = columns.iter_mut().find(|c| c.0 == field && c.1.is_none()) else { continue };
        if free.contains(&i) {
            slot.1 = Some(i);
            free.retain(|j| *j != i);
        }
    }
    let cells = |field: &str| -> Vec<&str> {
        let at = columns.iter().find(|c| c.0 == field).and_then(|c| c.1);
        at.map(|i| sample.iter().filter_map(|r| r.get(i)).map(String::as_str).filter(|c| !c.is_empty()).collect())
            .unwrap_or_default()
    };
    let orders = possible_orders(&cells("date"));
    let dates = match orders.as_slice() {
        [one] => DateOrder::WORDS.iter().find(|w| w.0 == *one).map(|w| w.1),
        _ => None,
    };
    let numbers: Vec<&str> =
        ["parts", "time", "repair_time"].iter().flat_map(|f| cells(f)).filter(|c| c.contains(['.', ','])).collect();
    let fits = |mark: char| {
        !numbers.is_empty() && numbers.iter().filter(|c| amount(c, mark).is_ok()).count() * 10 >= numbers.len() * 9
    };
    let decimal = match (fits('.'), fits(',')) {
        (true, false) => Some('.'),
        (false, true) => Some(','),
        _ => None,
    };
    Draft {
        columns: columns.into_iter().map(|(f, i)| (f, i.map(|i| header[i].clone()))).collect(),
        dates,
        decimal,
        left: free.into_iter().map(|i| header[i].clone()).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(w: &[&str]) -> Vec<String> {
        w.iter().map(|s| (*s).to_owned()).collect()
    }

    /// Headers as shops of three other countries write them, each with what a clerk there would say it is.
    #[test]
    fn headers_in_other_languages_are_known() {
        for (header, row) in [
            (
                "Auftrag;Datum;Marke;Modell;Baujahr;Kilometerstand;Fehlercode;Ursache;Arbeitszeit;Teilepreis",
                "77;03.04.2021;Orlo;Finch;2012;98000;P0442;Tankdeckel;0,5;12,50",
            ),
            (
                "N° commande;Date;Marque;Modèle;Année;Kilométrage;Codes défaut;Cause;Temps (min);Prix pièces",
                "77;03/04/2021;Orlo;Finch;2012;98000;P0442;bouchon;30;12,50",
            ),
            (
                "Orden;Fecha;Marca;Modelo;Año;Kilometraje;Código;Causa;Minutos;Precio piezas",
                "77;03/04/2021;Orlo;Finch;2012;98000;P0442;tapón;30;12,50",
            ),
        ] {
            let cells = |t: &str| t.split(';').map(str::to_owned).collect::<Vec<_>>();
            let header = cells(header);
            assert!(looks_like_header(&header.iter().map(String::as_str).collect::<Vec<_>>()) >= 8, "{header:?}");
            let d = draft(&header, &[cells(row)]);
            let fields =
                ["job", "date", "make", "model", "year", "mileage", "codes", "cause", "time", "parts"].into_iter();
            for (i, field) in fields.enumerate() {
                let of = d.columns.iter().find(|c| c.0 == field).unwrap().1.clone();
                assert_eq!(of.as_ref(), Some(&header[i]), "{field}: {d:?}");
            }
            assert_eq!(d.decimal, Some(','));
        }
    }

    #[test]
    fn columns_are_found_and_what_is_open_stays_open() {
        let header = words(&[
            "Job No",
            "Date in",
            "Make",
            "Model",
            "Yr",
            "Odo",
            "Codes read",
            "What was wrong",
            "Hrs",
            "Parts",
            "Phone",
        ]);
        let rows = [words(&["1", "03/04/2021", "Orlo", "Finch", "2012", "98k", "P0442", "cap", "0.5", "12.50", "x"])];
        let d = draft(&header, &rows);
        let of = |f: &str| d.columns.iter().find(|c| c.0 == f).unwrap().1.clone();
        assert_eq!(of("job").as_deref(), Some("Job No"));
        assert_eq!(of("codes").as_deref(), Some("Codes read"));
        assert_eq!(of("cause").as_deref(), Some("What was wrong"));
        assert_eq!(of("year").as_deref(), Some("Yr"));
        assert_eq!(d.dates, None, "both orders fit");
        assert_eq!(d.decimal, Some('.'));
        assert_eq!(d.left, ["Phone"]);
        assert!(d.to_yaml().contains("dates: \"?\""));
    }
}
