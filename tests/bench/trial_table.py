"""The table of the statistics bench: 12 treatments x 8 blocks x 10 measurements x 6 assessments.

Seven measurements are continuous, three are counts; 3 % of all cells are missing. One row per plot
and assessment. Made from a seed, so that both sides read the same file.
"""

import csv
from pathlib import Path

import numpy as np

TREATMENTS = [f"T{i:02d}" for i in range(1, 13)]
BLOCKS = [f"B{i}" for i in range(1, 9)]
ASSESSMENTS = [f"{w}" for w in range(1, 7)]
CONTINUOUS = [
    "height_cm",
    "width_cm",
    "internode_mm",
    "stem_mm",
    "leaf_cm2",
    "fresh_g",
    "dry_g",
]
COUNTS = ["branches", "flowers", "buds"]
CONTROL = "T01"


def write_table(path, seed=20260401):
    """Write the CSV file."""
    rng = np.random.default_rng(seed)
    names = CONTINUOUS + COUNTS
    with Path(path).open("w", newline="", encoding="utf-8") as file:
        out = csv.writer(file)
        out.writerow(["week", "block", "treatment", *names])
        effect = rng.normal(0, 1, (12, 10))
        block = rng.normal(0, 1, (8, 10))
        for week, label in enumerate(ASSESSMENTS):
            for b, block_label in enumerate(BLOCKS):
                for t, treatment in enumerate(TREATMENTS):
                    row = []
                    for j in range(10):
                        if j < 7:
                            y = 20 + 3 * week + 1.5 * effect[t, j] + block[b, j] + rng.normal(0, 2)
                            text = f"{y:.2f}"
                        else:
                            mu = np.exp(2 + 0.15 * week + 0.2 * effect[t, j] + 0.1 * block[b, j])
                            text = str(rng.negative_binomial(8, 8 / (8 + mu)))
                        row.append("" if rng.random() < 0.03 else text)
                    out.writerow([label, block_label, treatment, *row])
