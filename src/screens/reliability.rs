//! The reliability plot: what was said against what happened, as SVG that prints in black and white.

use learning::proportion::Beta;
use learning::replay::FORECASTS;
use learning::scores::Bin;
use std::fmt::Write as _;

const SIDE: f64 = 420.0;
const EDGE: f64 = 60.0;
const LEGEND: f64 = 190.0;

/// Stroke, fill of the points, dashes. They differ in print without colour too.
const LOOKS: [(&str, &str, &str); 3] = [("#777", "#fff", "7 4"), ("#000", "#000", "none"), ("#b60", "#fff", "2 3")];

/// Where a pair of shares stands.
fn at(said: f64, happened: f64) -> (f64, f64) {
    (EDGE + said * SIDE, EDGE + (1.0 - happened) * SIDE)
}

/// Radius of a point: it grows slowly with the forecasts behind it.
fn radius(count: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a count for a radius")]
    let r = (count as f64).sqrt().clamp(4.0, 100.0).ln() * 2.0;
    r
}

/// The plot of all forecasts. A point's size grows with the forecasts behind it; on the diagonal, what was said
/// happens as often as it was said. Bars at the tuned points hold the share that happened nine times in ten.
#[must_use]
pub fn svg(calibration: &[Vec<Bin>; 3]) -> String {
    let (w, h) = (SIDE + EDGE + LEGEND + 24.0, SIDE + 2.0 * EDGE);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <title>Said against what happened</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"white\"/>\n\
         <text x=\"{EDGE}\" y=\"34\" font-size=\"16\" font-weight=\"bold\">Did it happen as often as it was said?</text>\n"
    );
    grid(&mut out);
    for (k, bins) in calibration.iter().enumerate() {
        let (stroke, _, dashes) = LOOKS[k];
        let path: Vec<String> = bins
            .iter()
            .map(|b| {
                let (x, y) = at(b.predicted, b.happened);
                format!("{x:.1} {y:.1}")
            })
            .collect();
        // Writing to a text cannot fail.
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{stroke}\" stroke-width=\"1.5\" stroke-dasharray=\"{dashes}\"/>",
            path.join(" ")
        );
    }
    for b in &calibration[1] {
        #[expect(clippy::cast_precision_loss, reason = "a count of forecasts")]
        let (hits, n) = (b.happened * b.count as f64, b.count as f64);
        // Jeffreys' interval of a share.
        let (low, high) = Beta { a: hits + 0.5, b: n - hits + 0.5 }.interval(0.90);
        let ((x, top), (_, bottom)) = (at(b.predicted, high), at(b.predicted, low));
        let _ = writeln!(
            out,
            "<path d=\"M{:.1} {top:.1}h6m-3 0V{bottom:.1}m-3 0h6\" fill=\"none\" stroke=\"#000\"/>",
            x - 3.0
        );
    }
    // The tuned points come last, so that no other hides them.
    for k in [0, 2, 1] {
        let (stroke, fill, _) = LOOKS[k];
        for b in &calibration[k] {
            let ((x, y), r) = (at(b.predicted, b.happened), radius(b.count));
            let _ =
                writeln!(out, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{r:.1}\" fill=\"{fill}\" stroke=\"{stroke}\"/>");
        }
    }
    legend(&mut out);
    out.push_str("</svg>\n");
    out
}

fn grid(out: &mut String) {
    for i in 0..=10 {
        let t = f64::from(i) / 10.0;
        let ((x, bottom), (_, top)) = (at(t, 0.0), at(t, 1.0));
        let ((left, y), (right, _)) = (at(0.0, t), at(1.0, t));
        let _ =
            writeln!(out, "<path d=\"M{x:.1} {bottom:.1}V{top:.1}M{left:.1} {y:.1}H{right:.1}\" stroke=\"#e4e4e4\"/>");
        if i % 2 == 0 {
            let percent = i * 10;
            let _ = writeln!(
                out,
                "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{percent} %</text>\n\
                 <text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{percent} %</text>",
                bottom + 16.0,
                left - 6.0,
                y + 4.0
            );
        }
    }
    let ((x0, y0), (x1, y1)) = (at(0.0, 0.0), at(1.0, 1.0));
    let _ = writeln!(out, "<path d=\"M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}\" stroke=\"#bbb\" stroke-width=\"4\"/>");
    let middle = EDGE + SIDE / 2.0;
    let _ = writeln!(
        out,
        "<text x=\"{middle}\" y=\"{:.1}\" text-anchor=\"middle\">said: probability that a suspect was given</text>\n\
         <text transform=\"translate(16 {middle}) rotate(-90)\" text-anchor=\"middle\">happened: share in which it was the cause</text>",
        EDGE + SIDE + 40.0
    );
}

fn legend(out: &mut String) {
    let x = EDGE + SIDE + 24.0;
    let row = |i: f64| EDGE + 10.0 + 22.0 * i;
    for (k, (stroke, fill, dashes)) in LOOKS.iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "one of three rows")]
        let y = row(k as f64);
        let _ = writeln!(
            out,
            "<path d=\"M{x} {y}h32\" stroke=\"{stroke}\" stroke-width=\"1.5\" stroke-dasharray=\"{dashes}\"/>\
             <circle cx=\"{:.1}\" cy=\"{y}\" r=\"4\" fill=\"{fill}\" stroke=\"{stroke}\"/>\
             <text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            x + 16.0,
            x + 40.0,
            y + 4.0,
            FORECASTS[k]
        );
    }
    let y = row(3.0);
    let _ = writeln!(
        out,
        "<path d=\"M{x} {y}h32\" stroke=\"#bbb\" stroke-width=\"4\"/><text x=\"{:.1}\" y=\"{:.1}\">as often as said</text>",
        x + 40.0,
        y + 4.0
    );
    for (i, line) in ["larger point: more forecasts", "bar: 90 % interval of tuned"].iter().enumerate() {
        #[expect(clippy::cast_precision_loss, reason = "one of two rows")]
        let y = row(4.6 + 0.8 * i as f64);
        let _ = writeln!(out, "<text x=\"{x}\" y=\"{y:.1}\" fill=\"#555\" font-size=\"11\">{line}</text>");
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_stand_where_they_belong() {
        let bin = Bin { predicted: 0.5, happened: 1.0, count: 9 };
        let svg = svg(&[vec![], vec![bin], vec![]]);
        assert!(svg.contains("<circle cx=\"270.0\" cy=\"60.0\""), "{svg}");
        assert!(svg.ends_with("</svg>\n") && !svg.contains("NaN"));
    }
}
