"""`tepal analyse` as a person with a spreadsheet meets it: a real process, files, exit codes."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import jsonschema_rs
import numpy as np
import pytest

from tepal.cli import main
from tepal.stats import AnalysisSpec, analyse, read_table
from tepal.stats.schema import json_schema, shipped_schema

REFERENCE = Path(__file__).parents[1] / "reference"

# Dunnett 1955, J. Am. Stat. Assoc. 50:1096: breaking strength after three processes
FABRIC = "process,strength\n" + "\n".join(
    f"{p},{y}"
    for p, y in zip(
        ["ctrl"] * 3 + ["P1"] * 3 + ["P2"] * 3 + ["P3"] * 3,
        [55, 47, 48, 55, 64, 64, 55, 49, 52, 50, 44, 41],
        strict=True,
    )
)


def write(tmp_path, text, name="trial.csv", encoding="utf-8"):
    path = tmp_path / name
    path.write_bytes(text.encode(encoding))
    return str(path)


def run(capsys, *args):
    code = main(["analyse", *args])
    out = capsys.readouterr()
    return code, out.out, out.err


def as_json(capsys, *args):
    code, out, _ = run(capsys, *args, "--json")
    document = json.loads(out)
    jsonschema_rs.validator_for(shipped_schema()).validate(document)
    return code, document["results"]


def plants_table(seed=1, weeks=(1, 2, 3), zero="d"):
    """Return plants in pots in blocks over weeks: heights, branches, share alive, days, rating."""
    rng = np.random.default_rng(seed)
    lines = ["week,block,trt,pot,plant,height,branches,alive,days,grade,row,col"]
    for week in weeks:
        for b in range(4):
            for j, t in enumerate("abcd"):
                for plant in range(3):
                    height = 20 + b + 3 * j + week * (1 + 0.5 * j) + rng.normal()
                    branches = 0 if t == zero else rng.poisson(3 + j)
                    days = ">42" if rng.random() < 0.2 else int(rng.integers(25, 42))
                    lines.append(
                        f"{week},{b},{t},{b}{t},{plant},{height:.3f},{branches},"
                        f"{int(rng.random() < 0.6)},{days},,{b},{j}"
                    )
    return "\n".join(lines)


def test_published_dunnett_example_from_a_file(tmp_path, capsys):
    path = write(tmp_path, FABRIC)

    code, (result,) = as_json(
        capsys, path, "--response", "strength", "--treatment", "process", "--control", "ctrl"
    )

    assert code == 0
    got = [c["p_adjusted"] for c in result["comparison"]["comparisons"]]
    # exact values of the case dunnett_fabric1955 in tests/reference/stats_cases.json
    assert got == pytest.approx([0.0366219685631, 0.896474975978, 0.409159683003], abs=1e-8)


def test_text_shows_means_model_comparison_and_trust(tmp_path, capsys):
    path = write(tmp_path, FABRIC)

    code, out, _ = run(
        capsys, path, "--response", "strength", "--treatment", "process", "--control", "ctrl"
    )

    assert code == 0
    for words in (
        "Observed, from plot values",
        "Model: strength ~ treatment",
        "Dunnett",
        "Can it be trusted",
        "Unit of analysis: plot",
        "numpy",
    ):
        assert words in out


def test_letters_name_procedure_and_alpha(tmp_path, capsys):
    path = write(tmp_path, FABRIC)

    _, out, _ = run(
        capsys,
        path,
        "--response",
        "strength",
        "--treatment",
        "process",
        "--compare",
        "tukey",
        "--alpha",
        "0.01",
    )

    assert "letter in common" in out
    assert "Tukey-Kramer, alpha = 0.01" in out


def test_plants_of_a_plot_are_averaged_before_the_model(tmp_path, capsys):
    path = write(tmp_path, plants_table(weeks=(1,)))

    _, (result,) = as_json(
        capsys,
        path,
        "--response",
        "height",
        "--treatment",
        "trt",
        "--block",
        "block",
        "--plot",
        "pot",
        "--plant",
        "plant",
        "--control",
        "a",
    )

    assert result["about"]["n"] == 16
    assert result["model"]["df_error"] == 9
    assert result["observed"][0]["n_plots"] == 4
    assert result["observed"][0]["n_plants"] == 12


def test_every_type_at_every_week_follows_the_schema(tmp_path, capsys):
    path = write(tmp_path, plants_table())

    code, results = as_json(
        capsys,
        path,
        "--response",
        "height,branches:count,alive:proportion,days:days",
        "--treatment",
        "trt",
        "--block",
        "block",
        "--plot",
        "pot",
        "--control",
        "a",
        "--assessment",
        "week",
        "--row",
        "row",
        "--column",
        "col",
        "--over-time",
    )

    assert code in (0, 1)
    assert [r["assessment"] for r in results[::4]][:3] == ["1", "2", "3"]
    assert [r["type"] for r in results[:4]] == ["continuous", "count", "proportion", "days"]
    assert results[-2]["repeated"]["epsilon_gg"] is not None
    assert results[-1]["assessment"] == "slope over time"


def test_treatment_of_zeros_gets_a_deviance_test_instead_of_a_number(tmp_path, capsys):
    path = write(tmp_path, plants_table(weeks=(1,)))

    _, (result,) = as_json(
        capsys,
        path,
        "--response",
        "branches:count",
        "--treatment",
        "trt",
        "--plot",
        "pot",
        "--block",
        "block",
        "--control",
        "a",
    )

    (near,) = result["near_zero"]
    assert near["value"] is None
    assert near["reason"]
    assert near["p"] < 0.01
    assert any(f["code"] == "stats.edge_level" for f in result["findings"])


def nulls_without_reason(node, path=""):
    """Return places where a statistic is null with no reason in the same object."""
    found = []
    if isinstance(node, dict):
        for key in ("value", "p", "mean", "f", "statistic"):
            applies = (
                ("label" in node and key == "value")
                or ("name" in node and key == "p")
                or ("treatment" in node and key == "mean")
            )
            if applies and key in node and node[key] is None and not node.get("reason"):
                found.append(f"{path}.{key}")
        for key, value in node.items():
            found += nulls_without_reason(value, f"{path}.{key}")
    elif isinstance(node, list):
        for i, value in enumerate(node):
            found += nulls_without_reason(value, f"{path}[{i}]")
    return found


DEGENERATE = {
    "one replicate": ("t,y\na,1\nb,2\nc,3", "one plot only"),
    "all zeros": ("t,y\na,0\na,0\nb,0\nb,0", "zero in every plot"),
    "no variation": ("t,y\na,5\na,5\nb,5\nb,5", "zero in every plot|without variation|exactly"),
    "a treatment missing": ("t,y\na,1\na,2\nb,\nb,\nc,4\nc,6", "b has no usable plot"),
    "nothing measured": ("t,y\na,\na,\nb,\nb,", "no usable plot"),
    "separation": ("t,y\na,0\na,0\nb,4\nb,5", "edge of the scale|exactly"),
    "one plot with many plants": ("t,y,p\na,1,1\na,2,1\na,3,1\nb,4,2\nb,6,2", "one plot only"),
    "one treatment": ("t,y\na,1\na,2\na,4", "at least two levels|one treatment"),
    "confounded blocks": (
        "t,y,block\na,1,1\na,2,1\nb,3,2\nb,5,2",
        "confounded|one level|cannot be told apart",
    ),
}


@pytest.mark.parametrize("kind", ["continuous", "count", "rating"])
@pytest.mark.parametrize("name", DEGENERATE)
def test_degenerate_tables_give_a_statement_not_a_number(tmp_path, capsys, name, kind):
    text, _ = DEGENERATE[name]
    path = write(tmp_path, text)
    args = [path, "--response", f"y:{kind}", "--treatment", "t"]
    args += ["--plot", "p"] if ",p" in text else []
    args += ["--block", "block"] if ",block" in text else []

    code, (result,) = as_json(capsys, *args)

    assert nulls_without_reason(result) == []
    if (name, kind) == ("separation", "continuous"):
        return  # heights of 0 and 4 are no separation for a linear model
    assert code == 1
    assert result["statements"]


@pytest.mark.parametrize("name", [n for n in DEGENERATE if n not in ("all zeros", "separation")])
def test_statement_says_what_is_wrong(tmp_path, capsys, name):
    text, words = DEGENERATE[name]
    path = write(tmp_path, text)
    args = [path, "--response", "y", "--treatment", "t"]
    args += ["--plot", "p"] if ",p" in text else []
    args += ["--block", "block"] if ",block" in text else []

    _, (result,) = as_json(capsys, *args)

    said = " ".join(s["message"] for s in result["statements"])
    assert any(w in said for w in words.split("|")), said


def test_equal_counts_have_no_error_to_compare_with(tmp_path, capsys):
    path = write(tmp_path, "t,y\na,5\na,5\nb,5\nb,5")

    code, (result,) = as_json(capsys, path, "--response", "y:count", "--treatment", "t")

    assert code == 1
    assert "no error" in result["statements"][0]["message"]


@pytest.mark.parametrize(
    ("text", "args", "words"),
    [
        ("t,y\na,1\nb,two", [], ["Line 3", "y", "'two'", "not a number"]),
        ("t,y\na,1.5\nb,2", ["--type", "count"], ["Line 2", "1.5", "whole number"]),
        ("t,y\na,1\nb,2,3", [], ["Line 3", "3 values", "2 columns"]),
        ("t,y\n,1\nb,2", [], ["Line 2", "t is empty"]),
        ("t,z\na,1\nb,2", [], ["no column 'y'", "t, z"]),
        ("t,t\na,1", [], ["Two columns", "'t'"]),
        ("", [], ["empty"]),
        ("t,y\na,1\nb,2", ["--control", "untreated"], ["untreated", "a, b"]),
        ("t,y,p\na,1,1\nb,2,1", ["--plot", "p"], ["Line 3", "Plot 1", "a", "b"]),
        ("t,y\na,0.4\nb,1.2", ["--type", "proportion"], ["Line 3", "1.2", "between 0 and 1"]),
        ("t,y\na,3..1\nb,2", ["--type", "days"], ["Line 2", "3..1", "25..28"]),
        ("t,y\na,1\nb,2", ["--plant", "t"], ["--plot"]),
        ("t,y\na,1\nb,2", ["--alpha", "5"], ["--alpha is 5", "0.05"]),
        ("t,y\na,1\nb,2", ["--over-time"], ["assessments"]),
        ('t,y\na,"1,5"\nb,2', [], ["Line 2", "'1,5'", "decimal needs a point"]),
    ],
)
def test_errors_name_row_column_value_and_cure(tmp_path, capsys, text, args, words):
    path = write(tmp_path, text)

    code, out, err = run(capsys, path, "--response", "y", "--treatment", "t", *args)

    assert code == 2
    assert out == ""
    for word in words:
        assert word in err


def test_a_plant_measured_twice_asks_for_the_dates(tmp_path, capsys):
    path = write(tmp_path, plants_table())

    code, _, err = run(
        capsys,
        path,
        "--response",
        "height",
        "--treatment",
        "trt",
        "--plot",
        "pot",
        "--plant",
        "plant",
    )

    # 48 plants a week below one line of names: the second week begins in line 50
    assert code == 2
    assert "Line 50" in err
    assert "line 2 too" in err
    assert "assessment" in err


def test_missing_file_is_named(capsys):
    code, _, err = run(capsys, "nowhere.csv", "--response", "y", "--treatment", "t")

    assert code == 2
    assert "nowhere.csv cannot be read" in err


@pytest.mark.parametrize(
    ("text", "encoding"),
    [
        ("t;y\na;1,5\na;2,5\nb;3,5\nb;5,5", "utf-8-sig"),
        ("t\ty\r\na\t1.5\r\na\t2.5\r\nb\t3.5\r\nb\t5.5\r\n", "utf-8"),
        ("t;y;größe\na;1,5;1\na;2,5;1\nb;3,5;1\nb;5,5;1", "cp1252"),
    ],
)
def test_spreadsheets_of_other_countries_are_read(tmp_path, capsys, text, encoding):
    path = write(tmp_path, text, encoding=encoding)

    code, (result,) = as_json(capsys, path, "--response", "y", "--treatment", "t")

    assert code == 0
    assert [o["mean"] for o in result["observed"]] == pytest.approx([2.0, 4.5])


def test_help_teaches(capsys):
    with pytest.raises(SystemExit) as caught:
        main(["analyse", "--help"])

    out = capsys.readouterr().out
    assert caught.value.code == 0
    for words in ("what to ask", "not replicates", "examples", "exit codes", "25..28"):
        assert words in out


def test_factorial_interaction_points_to_the_combinations(tmp_path, capsys):
    rng = np.random.default_rng(2)
    rows = ["block,a,b,y"]
    for block in range(4):
        for a in "01":
            for b in "01":
                effect = 10 * (a == b)
                rows.append(f"{block},{a},{b},{50 + block + effect + rng.normal():.3f}")
    path = write(tmp_path, "\n".join(rows))

    _, (result,) = as_json(capsys, path, "--response", "y", "--factors", "a,b", "--block", "block")

    assert any(f["code"] == "stats.interaction" for f in result["findings"])
    assert [m["label"] for m in result["means"]["means"]] == ["0:0", "0:1", "1:0", "1:1"]


def test_games_howell_is_refused_in_blocks(tmp_path, capsys):
    path = write(tmp_path, plants_table(weeks=(1,)))

    code, (result,) = as_json(
        capsys,
        path,
        "--response",
        "height",
        "--treatment",
        "trt",
        "--block",
        "block",
        "--plot",
        "pot",
        "--compare",
        "games-howell",
    )

    assert code == 1
    assert "neither blocks" in result["statements"][0]["message"]
    assert result["model"] is not None


def test_ratings_in_blocks_use_friedman(tmp_path, capsys):
    grades = [[1, 2, 3], [1, 3, 2], [2, 2, 3], [1, 2, 3], [1, 1, 3]]
    rows = [f"{b},{t},{grades[b][i]}" for b in range(5) for i, t in enumerate("abc")]
    path = write(tmp_path, "block,t,g\n" + "\n".join(rows))

    _, (result,) = as_json(
        capsys, path, "--response", "g:rating", "--treatment", "t", "--block", "block"
    )

    assert result["ranks"]["test"]["name"] == "Friedman"


def reference(name):
    cases = json.loads((REFERENCE / "stats_cases.json").read_text("utf-8"))["cases"]
    return next(c for c in cases if c["id"] == name)


def test_split_plot_of_yates_from_a_table(tmp_path, capsys):
    case = reference("splitplot_oats")
    x = case["data"]["inline"]
    rows = zip(x["Block"], x["Variety"], x["nitro"], x["yield"], strict=True)
    path = write(
        tmp_path, "block,variety,nitro,y\n" + "\n".join(",".join(map(str, r)) for r in rows)
    )
    args = (
        path,
        "--response",
        "y",
        "--factors",
        "variety,nitro",
        "--block",
        "block",
        "--whole-plot",
        "variety",
    )

    _, (result,) = as_json(capsys, *args)
    _, out, _ = run(capsys, *args)

    terms = {t["term"]: t for t in result["variances"]["terms"]}
    want = case["expected"]
    assert terms["variety"]["f"] == pytest.approx(want["Variety"]["F"], rel=1e-6)
    assert terms["variety"]["df_error"] == pytest.approx(10, rel=1e-6)
    assert terms["nitro"]["p"] == pytest.approx(want["nitro"]["p"], rel=1e-4)
    assert result["variances"]["components"][0]["value"] == pytest.approx(
        want["varcomp"]["WholePlot"], rel=1e-4
    )
    assert "variance, whole plot" in out


def test_counts_cannot_be_a_split_plot(tmp_path, capsys):
    path = write(
        tmp_path,
        "block,a,b,y\n1,0,0,3\n1,0,1,4\n1,1,0,2\n1,1,1,1\n2,0,0,3\n2,0,1,5\n2,1,0,2\n2,1,1,2",
    )

    code, (result,) = as_json(
        capsys,
        path,
        "--response",
        "y:count",
        "--factors",
        "a,b",
        "--block",
        "block",
        "--whole-plot",
        "a",
    )

    assert code == 1
    assert "continuous" in result["statements"][0]["message"]


def test_germination_out_of_trials_matches_crowder(tmp_path, capsys):
    case = reference("binomial_orobanche")
    x = case["data"]["inline"]
    rows = zip(x["seed"], x["root"], x["n"], x["y"], strict=True)
    path = write(tmp_path, "seed,root,n,y\n" + "\n".join(",".join(map(str, r)) for r in rows))

    _, (result,) = as_json(
        capsys, path, "--response", "y:proportion", "--trials", "n", "--factors", "seed,root"
    )

    want = case["expected"]
    assert result["model"]["dispersion"] == pytest.approx(want["dispersion"], rel=1e-6)
    crossed = next(t for t in result["model"]["terms"] if t["term"] == "seed:root")
    assert crossed["p"] == pytest.approx(want["interaction_quasi_p"], rel=1e-6)


def test_text_of_every_type_names_its_parts(tmp_path, capsys):
    path = write(tmp_path, plants_table())

    _, out, _ = run(
        capsys,
        path,
        "--response",
        "height,branches:count,days:days",
        "--treatment",
        "trt",
        "--block",
        "block",
        "--plot",
        "pot",
        "--control",
        "a",
        "--assessment",
        "week",
        "--over-time",
        "--days-summary",
        "median",
        "--horizon",
        "42",
    )

    for words in (
        "quasi-Poisson",
        "Near zero",
        "Greenhouse-Geisser",
        "area under the course",
        "exploratory",
    ):
        assert words in out


def test_days_use_the_median_of_a_plot_when_asked(tmp_path, capsys):
    # plots of three: medians 30, 32, 40, 42 (the middle plant)
    rows = [
        "a,1,28",
        "a,1,30",
        "a,1,>50",
        "a,2,31",
        "a,2,32",
        "a,2,33",
        "b,3,38",
        "b,3,40",
        "b,3,44",
        "b,4,41",
        "b,4,42",
        "b,4,>50",
    ]
    path = write(tmp_path, "t,p,d\n" + "\n".join(rows))

    _, (result,) = as_json(
        capsys,
        path,
        "--response",
        "d:days",
        "--treatment",
        "t",
        "--plot",
        "p",
        "--horizon",
        "50",
        "--days-summary",
        "median",
    )

    assert [o["mean"] for o in result["observed"]] == pytest.approx([31.0, 41.0], abs=1e-4)
    assert any("median days" in n for n in result["about"]["notes"])


def test_protected_lsd_of_a_factorial_is_protected_by_all_cells(tmp_path, capsys):
    rows = [
        f"{a},{b},{10 + i % 3}"
        for i, (a, b) in enumerate((a, b) for _ in range(3) for a in "01" for b in "01")
    ]
    path = write(tmp_path, "a,b,y\n" + "\n".join(rows))

    _, (result,) = as_json(capsys, path, "--response", "y", "--factors", "a,b", "--compare", "lsd")

    assert result["comparison"]["procedure"] == "protected LSD"


def test_standard_input_is_read(tmp_path):
    done = subprocess.run(
        [
            sys.executable,
            "-m",
            "tepal.cli",
            "analyse",
            "-",
            "--response",
            "strength",
            "--treatment",
            "process",
            "--control",
            "ctrl",
        ],
        input=FABRIC,
        capture_output=True,
        text=True,
        check=False,
    )

    assert done.returncode == 0, done.stderr
    assert "P1 - ctrl" in done.stdout


def test_shipped_schema_is_the_schema_of_the_results():
    assert shipped_schema() == json_schema()


def test_same_table_gives_the_same_json(tmp_path, capsys):
    path = write(tmp_path, plants_table())
    args = (
        path,
        "--response",
        "height,branches:count",
        "--treatment",
        "trt",
        "--block",
        "block",
        "--plot",
        "pot",
        "--control",
        "a",
        "--assessment",
        "week",
    )

    assert as_json(capsys, *args) == as_json(capsys, *args)


def test_rows_that_share_block_and_treatment_without_plots_get_a_caution():
    table = read_table(
        "b,t,y\n" + "\n".join(f"{b},{t},{b + i}" for b in range(3) for i, t in enumerate("aabb"))
    )

    (result,) = analyse(table, AnalysisSpec((("y", "continuous"),), treatment="t", block="b"))

    assert any(f.code == "stats.rows_as_plots" for f in result.findings)


def test_continuous_and_count_analysis_never_loads_the_heavy_libraries(tmp_path):
    path = write(tmp_path, plants_table())
    script = (
        "import sys\n"
        "from tepal.cli import main\n"
        f"code = main(['analyse', {path!r}, '--response', 'height,branches:count', '--treatment',"
        " 'trt', '--block', 'block', '--plot', 'pot', '--control', 'a', '--assessment', 'week',"
        " '--json'])\n"
        "heavy = [m for m in ('statsmodels', 'pandas', 'patsy', 'scipy.stats') if m in sys.modules]\n"
        "sys.stderr.write(','.join(heavy))\n"
        "sys.exit(code)\n"
    )

    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=False
    )

    assert done.returncode in (0, 1), done.stderr
    assert done.stderr == ""


@pytest.mark.full
def test_importing_the_engine_costs_little_more_than_scipy_stats():
    import time

    def seconds(code):
        best = 60.0
        for _ in range(3):
            start = time.perf_counter()
            subprocess.run([sys.executable, "-c", code], check=True)
            best = min(best, time.perf_counter() - start)
        return best

    assert seconds("import tepal.stats") <= 1.3 * seconds("import scipy.stats")
