//! Nothing of a plan's drawing lies over an edge or on top of something else.

use super::*;

fn node(title: &str, sort: Sort, branches: Vec<Outcome>) -> Drawn {
    Drawn { title: title.into(), id: "t".into(), facts: "5 %".into(), sort, branches }
}

fn to(shows: &str, mass: f64, then: Drawn) -> Outcome {
    Outcome { shows: shows.into(), mass, then }
}

/// A chain of steps, each with outcomes aside after which the job ends and one after which it goes on.
fn chain(steps: usize) -> Drawn {
    let done = || node("Done", Sort::Done, Vec::new());
    let repair = || node("Replace it", Sort::Repair, vec![to("complaint gone", 0.2, done())]);
    let mut out = node("Hand on", Sort::HandOn, Vec::new());
    for k in 0..steps {
        let odd = if k % 2 == 0 { repair() } else { node("Look", Sort::Test, vec![to("bad", 0.1, repair())]) };
        let branches = vec![to("a \"<b>\" & c\u{1b}[31m", 0.2, odd), to("x", 0.1, repair()), to("normal", 0.7, out)];
        let title =
            format!("Look <first> at {} or 漢字漢字 {}", "a thing with a long name ".repeat(k % 7), "w".repeat(90));
        out = node(&title, Sort::Test, branches);
    }
    out
}

fn number(line: &str, key: &str) -> Option<f64> {
    let from = line.find(&format!(" {key}=\""))? + key.len() + 3;
    line[from..].split('"').next()?.parse().ok()
}

/// Places and sizes of the boxes of a sheet.
fn boxes(sheet: &str) -> Vec<[f64; 4]> {
    let all = sheet.split("<rect").skip(1).map(|r| format!("<rect{}", r.split('>').next().unwrap()));
    all.filter(|r| !r.contains("box done"))
        .filter_map(|l| Some([number(&l, "x")?, number(&l, "y")?, number(&l, "width")?, number(&l, "height")?]))
        .collect()
}

/// Left edge, base line and right edge of every line of text, by the font's own widths.
fn texts(sheet: &str) -> Vec<[f64; 3]> {
    let all = sheet.split("<text").skip(1);
    all.map(|t| {
        let (head, rest) = t.split_once('>').unwrap();
        let words = rest.split("</text>").next().unwrap();
        let words = words.replace("&lt;", "<").replace("&gt;", ">").replace("&quot;", "\"").replace("&amp;", "&");
        let font = Font { size: number(head, "font-size").unwrap(), bold: head.contains("bold") };
        let x = number(head, "x").unwrap();
        [x, number(head, "y").unwrap(), x + font.width(&words)]
    })
    .collect()
}

fn poster(root: Drawn) -> Poster {
    Poster { title: "Plan".into(), notes: vec!["A <note>. ".repeat(30)], root }
}

#[test]
fn nothing_lies_over_an_edge_or_on_top_of_something_else() {
    let mut root = chain(9);
    // The longest way is also one that starts aside.
    root.branches.push(to("aside", 0.3, chain(9)));
    let sheets: Vec<String> = sheets(&poster(root)).into_iter().map(Markup::into_string).collect();
    assert!(sheets.len() > 1);
    let mut seen = 0;
    for sheet in &sheets {
        let (boxes, texts) = (boxes(sheet), texts(sheet));
        seen += boxes.len();
        for (i, a) in boxes.iter().enumerate() {
            assert!(a[0] >= 0.0 && a[0] + a[2] <= WIDE + 0.1 && a[1] >= 0.0 && a[1] + a[3] <= HIGH - FOOT, "{a:?}");
            for b in &boxes[i + 1..] {
                let apart = a[0] + a[2] <= b[0] || b[0] + b[2] <= a[0] || a[1] + a[3] <= b[1] || b[1] + b[3] <= a[1];
                assert!(apart, "{a:?} {b:?}");
            }
        }
        for (i, t) in texts.iter().enumerate() {
            assert!(t[0] >= 0.0 && t[2] <= WIDE, "{t:?}");
            // Inside a box with room to its right edge, or beside all boxes.
            let inside = boxes.iter().find(|b| t[1] > b[1] && t[1] - 9.0 < b[1] + b[3]);
            if let Some(b) = inside {
                assert!(t[0] > b[0] && t[2] < b[0] + b[2] && t[1] < b[1] + b[3], "{t:?} {b:?}");
            }
            for u in &texts[i + 1..] {
                assert!((t[1] - u[1]).abs() >= 9.0 || t[2] <= u[0] || u[2] <= t[0], "{t:?} {u:?}");
            }
        }
    }
    let (tests, repairs, looks, ends) = (9 + 9, 9 + 9 + 5 + 5, 4 + 4, 2);
    assert_eq!(seen, tests + looks + repairs + 8 + ends, "every step is drawn once");
}

/// A line straight down passes no box: it stands left of all that is turned in between its ends.
#[test]
fn no_line_crosses_a_box() {
    let mut root = chain(9);
    root.branches.push(to("aside", 0.3, chain(9)));
    let drawn = Sheets::of(&poster(root));
    for page in 0..drawn.count() {
        let sheet = drawn.page(page, "t").into_string();
        let boxes = boxes(&sheet);
        for r in &drawn.rails {
            let top = HIGH * small(page);
            let (from, to) = (r.from - top, r.to - top);
            for b in &boxes {
                let clear = r.x < b[0] || r.x > b[0] + b[2] || to <= b[1] + 0.1 || from >= b[1] + b[3] - 0.1;
                assert!(clear, "{b:?} {} {from} {to}", r.x);
            }
        }
    }
}

#[test]
fn texts_are_escaped() {
    let drawing = svg(&poster(chain(2)));
    assert!(!drawing.contains('\u{1b}') && !drawing.contains("\"<b>\"") && !drawing.contains("<note>"));
    assert!(drawing.contains("&lt;first&gt;"));
    assert_eq!(drawing.matches("<text").count(), drawing.matches("</text>").count());
    assert!(drawing.starts_with("<svg") && drawing.trim_end().ends_with("</svg>"));
}
