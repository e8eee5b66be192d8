"""`tepal design` from the outside: what it prints, what it refuses, its exit codes."""

import json

import pytest

from tepal.cli import main

BLOCKS = ["design", "lay-out", "blocks", "--treatments", "untreated; water; 30 mg/L"]
REPLICATES = [
    *["design", "replicates", "--compare", "control", "--treatments", "6"],
    *["--difference-pct", "15", "--plot-cv-pct", "9"],
]


def test_lay_out_prints_seed_treatments_and_map(capsys):
    code = main([*BLOCKS, "--replicates", "2", "--bench", "4x5", "--guards", "1x1", "--seed", "4"])

    out = capsys.readouterr().out
    assert code == 0
    assert "randomised complete block, 3 treatments, 2 blocks, 6 plots of 1 plant" in out
    assert "Seed: 4 (tepal-layout-1)" in out
    assert "1  untreated (2 plots)" in out
    # the rim of a 4 x 5 bench
    assert out.count("(guard)") == 14


def test_stored_layout_shows_and_checks(tmp_path, capsys):
    path = tmp_path / "trial.json"
    main([*BLOCKS, "--replicates", "3", "--seed", "4", "--json", str(path)])
    printed = capsys.readouterr().out

    code = main(["design", "show", str(path)])

    out = capsys.readouterr().out
    assert code == 0
    assert out.startswith(printed.rstrip("\n"))
    assert "the seed leads to exactly these plots" in out


def test_layout_that_does_not_follow_from_its_seed_is_a_finding(tmp_path, capsys):
    path = tmp_path / "trial.json"
    main([*BLOCKS, "--replicates", "3", "--seed", "4", "--json", str(path)])
    document = json.loads(path.read_text())
    path.write_text(json.dumps(document | {"seed": 5}))

    code = main(["design", "show", str(path)])

    assert code == 1
    assert "seed 5 leads to other plots" in capsys.readouterr().err


def test_json_alone_goes_to_standard_output(capsys):
    code = main([*BLOCKS, "--replicates", "2", "--seed", "4", "--json", "-"])

    document = json.loads(capsys.readouterr().out)
    assert code == 0
    assert (document["format"], document["seed"]) == ("urn:tepal:layout:1", 4)


def test_seed_is_drawn_and_printed_when_left_out(capsys):
    main([*BLOCKS, "--replicates", "2", "--json", "-"])

    assert 0 <= json.loads(capsys.readouterr().out)["seed"] < 2**32


def test_file_is_not_overwritten_unasked(tmp_path, capsys):
    path = tmp_path / "trial.json"
    path.write_text("the only layout")

    code = main([*BLOCKS, "--replicates", "2", "--seed", "4", "--json", str(path)])

    assert code == 2
    assert "--overwrite" in capsys.readouterr().err
    assert path.read_text() == "the only layout"
    assert main([*BLOCKS, "--replicates", "2", "--json", str(path), "--overwrite"]) == 0


def test_potting_on_keeps_origins(tmp_path, capsys):
    path, potted = tmp_path / "trial.json", tmp_path / "potted.json"
    main([*BLOCKS, "--replicates", "2", "--plants", "2", "--seed", "4", "--json", str(path)])

    arguments = ["design", "pot-on", str(path), "--bench", "3x4", "--seed", "8"]
    code = main([*arguments, "--json", str(potted)])

    capsys.readouterr()
    assert code == 0
    assert len(json.loads(potted.read_text())["plants"]) == 12
    assert main(["design", "show", str(potted)]) == 0
    assert "stays the experimental unit" in capsys.readouterr().out


def test_split_plot_factorial_is_laid_out(capsys):
    code = main(
        [
            *["design", "lay-out", "split", "--factor", "product = A; B"],
            *["--factor", "rate = 10; 20 mg/L", "--whole-plots", "product"],
            *["--replicates", "2", "--seed", "1"],
        ]
    )

    assert code == 0
    assert "Whole plots: product" in capsys.readouterr().out


def test_layout_says_what_counts_as_a_replicate(capsys):
    main([*BLOCKS, "--replicates", "2", "--unit", "pot", "--treated-together", "bench"])

    out = capsys.readouterr().out
    assert "Experimental unit: pot" in out
    assert "a fault of that one pass" in out


def test_trial_that_cannot_answer_exits_with_a_finding(capsys):
    code = main([*REPLICATES, "--have", "4"])

    captured = capsys.readouterr()
    assert code == 1
    assert "too small for its question" in captured.err
    assert "Needed for 15 %: 9 blocks" in captured.out


def test_needed_replicates_are_found(capsys):
    code = main([*REPLICATES, "--json", "-"])

    document = json.loads(capsys.readouterr().out)
    assert code == 0
    # R: 9 blocks have power 0.815, 8 have 0.753 (tests/reference/test_design_power.py)
    assert document["needed_replicates"] == document["n_replicates"] == 9


def test_hopeless_question_exits_with_a_finding(capsys):
    assert main([*REPLICATES[:-1], "900"]) == 1
    assert "500 replicates" in capsys.readouterr().err


def test_schema_is_printed(capsys):
    assert main(["design", "schema"]) == 0
    assert json.loads(capsys.readouterr().out)["$id"] == "urn:tepal:layout:1"


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([*BLOCKS, "--replicates", "0"], ["--replicates", "'0'", "1 or more"]),
        ([*BLOCKS, "--replicates", "2", "--bench", "6"], ["--bench", "'6'", "4x12"]),
        ([*BLOCKS, "--replicates", "2", "--seed", "-4"], ["--seed"]),
        ([*BLOCKS, "--replicates", "2", "--seed", "4.5"], ["--seed", "'4.5'", "whole number"]),
        (
            [*BLOCKS, "--replicates", "2", "--bench", "6x6", "--out-of-use", "2-3"],
            ["--out-of-use", "'2-3'", "row:column"],
        ),
        (["design", "lay-out", "spiral", "--replicates", "2"], ["spiral", "blocks"]),
        (
            ["design", "lay-out", "blocks", "--treatments", "a;;b", "--replicates", "2"],
            ["--treatments", "'a;;b'", "semicolons"],
        ),
        (
            ["design", "lay-out", "blocks", "--factor", "rate", "--replicates", "2"],
            ["--factor", "'rate'", "two levels"],
        ),
        ([*REPLICATES[:-1], "9%"], ["--plot-cv-pct", "'9%'", "no unit"]),
    ],
)
def test_wrong_value_is_answered_with_flag_value_and_cure(arguments, words, capsys):
    with pytest.raises(SystemExit) as left:
        main(arguments)

    message = capsys.readouterr().err
    assert left.value.code == 2
    assert all(word in message for word in words)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["design", "lay-out", "blocks", "--replicates", "2"], ["--treatments", "--factor"]),
        ([*BLOCKS, "--replicates", "2", "--extra", "a"], ["--extra a", "--treatments"]),
        ([*BLOCKS, "--replicates", "2", "--guards", "1x1"], ["--guards", "--bench"]),
        (
            [*BLOCKS, "--replicates", "2", "--treated-together", "bench"],
            ["--treated-together bench", "--unit"],
        ),
        ([*BLOCKS, "--replicates", "9", "--bench", "4x4"], ["--bench", "16", "27"]),
        (
            [*BLOCKS, "--replicates", "2", "--bench", "4x4", "--block-shape", "1x2"],
            ["--block-shape", "1 x 2"],
        ),
        (
            [
                "design",
                "lay-out",
                "split",
                "--factor",
                "f=1;2",
                "--factor",
                "g=1;2",
                "--replicates",
                "2",
            ],
            ["--whole-plots", "f, g"],
        ),
        (
            [
                "design",
                "lay-out",
                "blocks",
                "--factor",
                "f=1;2",
                "--factor",
                "g=1;2",
                "--replicates",
                "2",
                "--control-plots",
                "2",
            ],
            ["--control-plots 2", "1"],
        ),
        (
            [
                "design",
                "lay-out",
                "latin",
                "--treatments",
                "a;b",
                "--replicates",
                "1",
                "--control-plots",
                "2",
            ],
            ["--control-plots", "once"],
        ),
        ([*REPLICATES, "--have", "1"], ["--have", "1 replicate"]),
        ([*REPLICATES, "--power-pct", "110"], ["--power-pct 110", "99.99"]),
        ([*REPLICATES, "--alpha", "0.9"], ["--alpha", "0.9", "0.5"]),
        (["design", "show", "no-folder/at-all.json"], ["no-folder/at-all.json", "--json"]),
        ([*BLOCKS, "--replicates", "2", "--json", "no-folder/a.json"], ["--json", "folder"]),
    ],
)
def test_design_that_is_refused_names_flag_value_and_cure(
    arguments, words, capsys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)  # an empty folder: what is not there is ours to say
    code = main(arguments)

    message = capsys.readouterr().err
    assert code == 2
    assert all(word in message for word in words)


def test_file_that_is_not_json_is_refused(tmp_path, capsys):
    path = tmp_path / "trial.json"
    path.write_text("plots: many")

    assert main(["design", "show", str(path)]) == 2
    assert "is not JSON" in capsys.readouterr().err


def test_plants_to_pot_on_are_checked(tmp_path, capsys):
    path = tmp_path / "trial.json"
    main([*BLOCKS, "--replicates", "2", "--seed", "4", "--json", str(path)])
    arguments = ["design", "pot-on", str(path), "--bench", "3x4", "--plants", "1.1,9.1"]

    assert main(arguments) == 2
    assert "--plants: Plant 1 of plot 9" in capsys.readouterr().err


@pytest.mark.parametrize("action", ["lay-out", "show", "pot-on", "replicates", "schema"])
def test_every_action_explains_itself(action, capsys):
    with pytest.raises(SystemExit) as left:
        main(["design", action, "--help"])

    assert left.value.code == 0
    assert "usage: tepal design" in capsys.readouterr().out
