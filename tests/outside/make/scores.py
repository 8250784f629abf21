#!/usr/bin/env python3
"""Makes scores.json: Brier score, log score, top-k share and calibration of random predictions.

Who says so: scikit-learn 1.9.1, `sklearn.metrics.brier_score_loss`, `log_loss`, `top_k_accuracy_score` and
`sklearn.calibration.calibration_curve`. Conventions that matter:
  log_loss                natural logarithm, mean over the rows; no case has a true class at share 0 and none
                          would be clipped
  brier                   several classes: mean over the rows of the sum over classes of (share - hit)^2
                          (scale_by_half=False); brier_half is half of it. Binary: mean of (p - y)^2, which is
                          what scikit-learn gives by default there and equals brier_half of the two shares.
  top_1, top_3            share of the rows whose true class is among the k largest shares; no ties occur
  calibration             uniform: bins of equal width over [0, 1], a value on an edge belongs to the lower
                          bin; quantile: edges at the quantiles of the predictions (linear interpolation).
                          Empty bins are left out. `predicted` and `happened` are the means per bin.
Predictions are drawn by Python's `random` from fixed seeds; "truth" is the index of the true class.

How (Python 3.11):
    venv/bin/pip install scikit-learn==1.9.1 numpy
    venv/bin/python tests/outside/make/scores.py tests/outside
"""
import json
import random
import sys
import warnings
from importlib.metadata import version
from pathlib import Path

from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss, log_loss, top_k_accuracy_score


def several_classes(rng, rows, classes):
    shares, truth = [], []
    for _ in range(rows):
        raw = [rng.gammavariate(0.6, 1.0) + 1e-4 for _ in range(classes)]
        row = [x / sum(raw) for x in raw]
        row[-1] = 1.0 - sum(row[:-1])
        assert min(row) > 0 and len(set(row)) == classes
        shares.append(row)
        # Half of the time the prediction is right about itself, otherwise any class.
        truth.append(rng.choices(range(classes), row)[0] if rng.random() < 0.6 else rng.randrange(classes))
    labels = list(range(classes))
    return {"shares": shares, "truth": truth,
            "log_loss": float(log_loss(truth, shares, labels=labels)),
            "brier": float(brier_score_loss(truth, shares, labels=labels, scale_by_half=False)),
            "brier_half": float(brier_score_loss(truth, shares, labels=labels, scale_by_half=True)),
            "top_1": float(top_k_accuracy_score(truth, shares, k=1, labels=labels)),
            "top_3": float(top_k_accuracy_score(truth, shares, k=3, labels=labels)) if classes > 3 else 1.0}


def two_classes(rng, rows, power):
    p = [rng.random() for _ in range(rows)]
    y = [int(rng.random() < q ** power) for q in p]
    y[0], y[1] = 0, 1  # both classes occur
    out = {"probability": p, "truth": y, "log_loss": float(log_loss(y, p, labels=[0, 1])),
           "brier": float(brier_score_loss(y, p)), "calibration": []}
    for strategy in ("uniform", "quantile"):
        for bins in (5, 10):
            happened, predicted = calibration_curve(y, p, n_bins=bins, strategy=strategy)
            out["calibration"].append({"strategy": strategy, "bins": bins, "predicted": predicted.tolist(), "happened": happened.tolist()})
    return out


def main():
    warnings.simplefilter("error")
    several = [several_classes(random.Random(f"several {k}"), rows, classes)
               for k, (rows, classes) in enumerate([(1, 4), (7, 3), (40, 4), (40, 5), (60, 8), (100, 12), (60, 30)])]
    two = [two_classes(random.Random(f"two {k}"), rows, power)
           for k, (rows, power) in enumerate([(4, 1.0), (30, 1.0), (100, 1.0), (300, 2.0), (300, 0.5), (500, 1.0)])]
    header = {"made_with": {"library": "scikit-learn", "version": version("scikit-learn"), "how":
                            "brier_score_loss, log_loss, top_k_accuracy_score, calibration_curve; conventions in the script"},
              "script": "tests/outside/make/scores.py", "tolerance": 1e-12}
    text = json.dumps(header)[:-1] + ',\n "several_classes": [\n' + ",\n".join(map(json.dumps, several)) + \
        '\n],\n "two_classes": [\n' + ",\n".join(map(json.dumps, two)) + "\n]}\n"
    json.loads(text)
    path = Path(sys.argv[1] if len(sys.argv) > 1 else ".") / "scores.json"
    path.write_text(text)
    print(f"{path}: {len(several)} + {len(two)} cases, {len(text) / 1000:.0f} kB")


if __name__ == "__main__":
    main()
