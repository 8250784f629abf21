//! The reliability plot: what was said against what happened, as SVG that prints in black and white.

use crate::learning::replay::FORECASTS;
use crate::learning::scores::Bin;
use std::fmt::Write as _;

const SIDE: f64 = 420.0;
const EDGE: f64 = 60.0;

/// The plot of all forecasts. A point's area grows with the forecasts behind it; on the diagonal, what was said
/// happens as often as it was said.
#[must_use]
pub fn svg(calibration: &[Vec<Bin>; 3]) -> String {
    let (w, h) = (SIDE + 2.0 * EDGE + 120.0, SIDE + 2.0 * EDGE);
    let at = |x: f64, y: f64| (EDGE + x * SIDE, EDGE + (1.0 - y) * SIDE);
    let mut out = format!(
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}\" height=\"{h}\" font-family=\"sans-serif\" font-size=\"12\">\n\
         <title>Said against what happened</title>\n<rect width=\"{w}\" height=\"{h}\" fill=\"white\"/>\n"
    );
    for i in 0..=10 {
        let t = f64::from(i) / 10.0;
        let ((x, bottom), (_, top)) = (at(t, 0.0), at(t, 1.0));
        let ((left, y), (right, _)) = (at(0.0, t), at(1.0, t));
        // Writing to a text cannot fail.
        let _ = writeln!(out, "<path d=\"M{x:.1} {bottom:.1}V{top:.1}M{left:.1} {y:.1}H{right:.1}\" stroke=\"#ddd\"/>");
        if i % 2 == 0 {
            let _ = writeln!(
                out,
                "<text x=\"{x:.1}\" y=\"{:.1}\" text-anchor=\"middle\">{} %</text>",
                bottom + 16.0,
                i * 10
            );
            let _ = writeln!(
                out,
                "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"end\">{} %</text>",
                left - 6.0,
                y + 4.0,
                i * 10
            );
        }
    }
    let ((x0, y0), (x1, y1)) = (at(0.0, 0.0), at(1.0, 1.0));
    let _ = writeln!(out, "<path d=\"M{x0:.1} {y0:.1}L{x1:.1} {y1:.1}\" stroke=\"#888\" stroke-dasharray=\"5 4\"/>");
    let looks = [("#888", "none", "6 4"), ("#000", "#000", "none"), ("#b60", "none", "2 3")];
    for (k, bins) in calibration.iter().enumerate() {
        let (stroke, fill, dashes) = looks[k];
        let points: Vec<(f64, f64)> = bins.iter().map(|b| at(b.predicted, b.happened)).collect();
        let path: Vec<String> = points.iter().map(|(x, y)| format!("{x:.1} {y:.1}")).collect();
        let _ = writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" stroke=\"{stroke}\" stroke-dasharray=\"{dashes}\"/>",
            path.join(" ")
        );
        for ((x, y), b) in points.iter().zip(bins) {
            #[expect(clippy::cast_precision_loss, reason = "a count for a radius")]
            let r = (b.count as f64).sqrt().clamp(4.0, 100.0).ln() * 2.0;
            let _ =
                writeln!(out, "<circle cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"{r:.1}\" fill=\"{fill}\" stroke=\"{stroke}\"/>");
        }
        let y = EDGE + 20.0 * (k as f64 + 1.0);
        let x = EDGE + SIDE + 20.0;
        let _ = writeln!(
            out,
            "<path d=\"M{x} {y}h28\" stroke=\"{stroke}\" stroke-dasharray=\"{dashes}\"/><text x=\"{:.1}\" y=\"{:.1}\">{}</text>",
            x + 36.0,
            y + 4.0,
            FORECASTS[k]
        );
    }
    let middle = EDGE + SIDE / 2.0;
    let _ = writeln!(out, "<text x=\"{middle}\" y=\"{:.1}\" text-anchor=\"middle\">said</text>", EDGE + SIDE + 40.0);
    let _ = writeln!(
        out,
        "<text transform=\"translate(16 {middle}) rotate(-90)\" text-anchor=\"middle\">happened</text>\n</svg>"
    );
    out
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
