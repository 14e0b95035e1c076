"""The command `planner`: answers, exit codes, and one line for whatever is wrong."""

import io
import json
import os
import pty
import re
import select
import shutil
import signal
import subprocess
import sys

import pytest
from files.equipment_text import written

import planner
from planner.cli import COMMANDS, command_named, run, with_negative_numbers
from planner.errors import STEERING
from planner.files.own_files import packaged_data
from planner.files.reading import _standard_input

UNIT = re.compile(r"\b(deg|deg_C|arcsec2?|arcmin|mag|R|h|min|(?<!')s|mm|kg)\b")


def _run(capsys, *words):
    code = run([str(word) for word in words])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


@pytest.mark.parametrize("words", [[], ["--help"], ["-h"]])
def test_help_lists_every_command(capsys, words):
    code, out, err = _run(capsys, *words)
    assert code == 0
    assert err == ""
    assert all(f"  {name} " in out and entry.help in out for name, entry in COMMANDS.items())


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_explains_itself(capsys, name):
    code, out, _ = _run(capsys, name, "--help")
    assert code == 0
    assert out.startswith(f"Usage: planner {name}")


def test_version(capsys):
    from planner import __version__

    assert _run(capsys, "--version") == (0, f"planner {__version__}\n", "")


SILLY = [
    (["gaer"], "planner gaer: is not a command. Did you mean gear"), (["--gear"], "planner --gear: is not an option."),
    (["nihgt"], "Did you mean night"), (["nihgt"], f"The commands are {', '.join(COMMANDS)}."),
    (["suits"], 'planner suits: is now called "planner objects".'), (["help", "gaer"], "Did you mean gear"),
    (["gear", "--chekc"], 'No such option: --chekc'), (["gear", "extra"], "Got unexpected extra argument"),
    (["gear", "--equipment"], "requires an argument"), (["gear", "--equipment", "/no/such.toml"], "is not there"),
    (["gear", "--equipment", "/"], "must be a file"), (["gear", "--equipment", ""], "equipment file"),
    (["gear", "--equipment", "a\nb"], "is not there"), (["", ""], "is not a command"),
    (["init", "--equipment", "/dev/null/x/e.toml"], "cannot be written"), (["\x1b[31m"], "is not a command"),
]


@pytest.mark.parametrize(("words", "line"), SILLY, ids=[" ".join(words) for words, _ in SILLY])
def test_bad_input_is_one_line_and_code_2(capsys, words, line):
    code, out, err = _run(capsys, *words)
    assert code == 2
    assert out == ""
    assert line in err
    assert err.count("\n") == 1
    assert "Traceback" not in err


def test_a_fault_of_the_program_is_one_line_too(capsys, monkeypatch):
    def broken(path):
        raise ZeroDivisionError("by\nnothing")

    monkeypatch.setattr("planner.cli.equipment.gear.open_equipment", broken)
    code, out, err = _run(capsys, "gear")
    assert (code, out, err.count("\n")) == (1, "", 1)
    assert "ZeroDivisionError: by nothing" in err
    code, out, line = _run(capsys, "gear", "--json")
    assert (code, out, line.count("\n")) == (1, "", 1)
    document = json.loads(line)
    assert document["schema"] == "error/1"
    assert document["error"]["message"] == err.strip()
    monkeypatch.setenv("PLANNER_DEBUG", "1")
    with pytest.raises(ZeroDivisionError):
        run(["gear"])


def test_init_writes_a_file_that_gear_accepts_and_never_overwrites(capsys, tmp_path):
    path = tmp_path / "mine.toml"
    code, out, _ = _run(capsys, "init", "--equipment", path)
    assert code == 0
    assert str(path) in out
    code, out, _ = _run(capsys, "gear", "--check", "--equipment", path)
    assert code == 0
    assert out.startswith(f"{path}: no problems.\n")
    assert "quantum_efficiency, read_noise, full_well, gain are as in the starting file" in " ".join(out.split())
    path.write_text("mine now")
    code, out, err = _run(capsys, "init", "--equipment", path)
    assert code == 2
    assert "is there already and is never overwritten" in err
    assert path.read_text() == "mine now"


def test_init_writes_to_the_users_settings_and_all_commands_then_read_it(capsys, tmp_path, monkeypatch):
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path / "planner")
    assert _run(capsys, "init")[0] == 0
    code, out, err = _run(capsys, "gear", "--json")
    assert code == 0
    assert err == ('Still the starting file\'s examples: site "home", telescope "telescope", camera "camera"; '
                   '"planner gear --check" names each figure. Are they yours, give them a name of your own.\n')
    assert json.loads(out)["sites"][0]["name"] == "home"
    assert _run(capsys, "init")[0] == 2


def test_one_variable_names_the_folder_of_all_files(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("PLANNER_FOLDER", "mine")
    code, _, err = _run(capsys, "gear")  # mistyped, it would answer for the demo
    assert (code, err) == (2, "PLANNER_FOLDER = mine: is no folder that is there. Make it, or correct the variable.\n")
    (tmp_path / "mine").write_text("")
    assert _run(capsys, "gear")[::2] == (code, err)  # nor is a file one
    (tmp_path / "mine").unlink()
    (tmp_path / "mine").mkdir()
    for kind in ("equipment", "pier", "projects", "targets"):
        assert _run(capsys, "init", kind)[0] == 0
    assert sorted(path.name for path in (tmp_path / "mine").iterdir()) == [
        "equipment.toml", "pier.toml", "projects.toml", "targets.csv"]
    assert json.loads(_run(capsys, "gear", "--json")[1])["sites"][0]["name"] == "home"


@pytest.mark.parametrize(("kind", "name", "words"), [
    ("equipment", "equipment.toml", ["gear", "--check"]), ("pier", "pier.toml", ["pier", "check"]),
    ("projects", "projects.toml", ["done"]), ("targets", "targets.csv", ["season", "My dark cloud", "--nights", "2"]),
])
def test_every_file_of_ones_own_can_be_begun(capsys, tmp_path, monkeypatch, kind, name, words):
    monkeypatch.setattr("platformdirs.user_config_path", lambda *names, **more: tmp_path / "planner")
    assert _run(capsys, "init", kind)[0] == 0
    assert (tmp_path / "planner" / name).is_file()
    assert _run(capsys, "init", kind)[0] == 2  # never over it
    own = tmp_path / "planner" / name
    assert _run(capsys, "init", kind, "--file", tmp_path / "other")[0] == 0
    assert (tmp_path / "other").read_text() == own.read_text()
    assert _run(capsys, "init", kind, "--file", tmp_path / "none" / "other")[0] == 2
    assert not (tmp_path / "none").exists()
    own.write_text(own.read_text().replace("# My", "My"))
    code, _, err = _run(capsys, *words)
    assert code == 0, err


@pytest.mark.parametrize("words", [
    ["done", "M31", "--filter", "L", "--hours", "1h", "--wanted", "8h", "--project", "FILE"],
    ["done", "M31", "--undo", "--project", "FILE"], ["night", "M31", "--night", "2026-11-28", "--ics", "FILE"],
    ["night", "M31", "--night", "2026-11-28", "--csv", "FILE"], ["gear", "--equipment", "FILE"], ["drift", "FILE"],
    ["frame", "FILE"], ["pier", "check", "--pier", "FILE"],
])
def test_a_folder_that_one_may_not_enter_is_one_line(capsys, tmp_path, monkeypatch, words):
    locked = tmp_path / "locked"
    real = os.stat

    def stat(path, *more, **how):
        if isinstance(path, (str, os.PathLike)) and os.fspath(path).startswith(f"{locked}"):
            raise PermissionError(13, "Permission denied", str(path))
        return real(path, *more, **how)

    monkeypatch.setattr(os, "stat", stat)
    monkeypatch.setattr(os, "mkdir", lambda path, *_: stat(locked))
    code, _, err = _run(capsys, "-q", *[str(locked / "file") if word == "FILE" else word for word in words])
    assert (code, err.count("\n")) == (2, 1)
    assert "Permission denied" in err


@pytest.mark.parametrize(("words", "code", "line"), [
    (["gear"], 0, ""), (["night", "M31", "--night", "2026-11-28", "--csv", "out.csv"], 2, "working folder = (deleted)"),
    (["gear", "--equipment", "e.toml"], 2, "is not there"),
    (["init", "--file", "e.toml"], 2, "cannot be written (No such file or directory)"),
])
def test_a_deleted_working_folder_is_one_line(capsys, tmp_path, monkeypatch, words, code, line):
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    found, _, err = _run(capsys, "-q", *words)
    assert (found, err.count("\n")) == (code, code // 2)
    assert line in err


def test_a_kind_of_file_that_is_none(capsys):
    assert "Did you mean targets" in _run(capsys, "init", "target")[2]
    assert "does not go with pier" in _run(capsys, "init", "pier", "--equipment", "x")[2]


@pytest.mark.parametrize(("words", "source"), [
    (["gear", "--equipment", "-"], "equipment.toml"), (["gear", "--check", "--equipment", "-"], "starter.toml"),
    (["drift", "-", "--json"], "drift_demo.csv"), (["pointing", "-"], "pointing_demo.csv"),
    (["polar", "-"], "polar_demo.csv"), (["done", "--project", "-"], "projects.toml"),
    (["pier", "column", "--pier", "-"], "pier.toml"), (["season", "-", "--nights", "1"], "targets.csv"),
])
def test_a_dash_is_standard_input(capsys, monkeypatch, words, source):
    text = packaged_data(source).read_text(encoding="utf-8").replace('horizon = "', '# horizon = "')
    found = []
    for given in (text, ""):
        _standard_input.cache_clear()  # a process reads it once
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(given.encode())))
        found.append(_run(capsys, *words, "--quiet"))
    (code, out, err), empty = found
    assert (code, err) == (0, "")
    assert out
    assert empty[0] == (0 if words[0] == "done" else 2)


def test_a_dash_is_the_standard_input_of_a_process():
    text = packaged_data("starter.toml").read_text(encoding="utf-8")
    done = _planner("gear", "--check", "--equipment", "-", "--quiet", input=text)
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout


@pytest.mark.parametrize("words", [
    ["init", "--file", "-"], ["done", "M31", "--filter", "L", "--hours", "1", "--project", "-"],
    ["night", "M31", "--night", "2026-11-28", "--csv", "-"],
])
def test_a_dash_is_no_file_to_write(capsys, tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    code, _, err = _run(capsys, *words, "--json")  # the note of the demo does not stand beside the error
    assert (code, json.loads(err)["error"]["rule"]) == (2, "is standard input and cannot be written")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(("words", "line"), [
    (["campaign", "--clear", "2"], "--clear = 2.0: must be at most 1."),
    (["night", "M31", "--clear", "nan"], "--clear = nan: must be a finite number without unit."),
    (["night", "M31", "--tonight-alone", "--clear", "0.3"], "--clear = 0.3: says nothing of tonight alone."),
    (["night", "M31", "--least-stay", "45 deg"], 'Write it like "45 min".'),
    (["objects", "--kind", "foo"], "--kind = foo: is not in the catalogue. Give a word of: association of stars,"),
    (["campaign", "--clear=0,4"], '--clear = 0,4: must be a number. Write a decimal point: "0.4".'),
    (["pier", "power", "--nosuch"], 'No such option: --nosuch. See "planner pier power --help".'),
    (["pier", "foo"], "The commands are sway, balance, power, column, check, init."),
])
def test_a_refusal_stands_alone_and_calls_an_option_as_it_was_typed(capsys, words, line):
    code, out, err = _run(capsys, *words)
    assert (code, out, err.count("\n")) == (2, "", 1)
    assert line in err


def test_the_help_of_each_quantity_names_the_unit_that_a_bare_number_has():
    nameless = []
    for name in COMMANDS:
        command = command_named(name)
        for each in (command, *getattr(command, "commands", {}).values()):
            nameless += [f"{name} {item.opts[0]}" for item in each.params
                         if item.metavar in ("ANGLE", "ANGLES", "TIME", "VALUE", "SIZE", "T", "MASS", "DISTANCE")
                         and not UNIT.search(f"{item.help} {item.default}")]
    assert nameless == []


# What one types up to the Tab key, and what the shell makes of its last word.
COMPLETED = (("planner ni", "night"), ("planner --quiet ni", "night"), ("planner advise --sig", "--signal-to-noise"),
             ("planner pier po", "power"), ("planner pier sway --c", "--calm"), ("planner help gea", "gear"),
             ("planner init pr", "projects"), ("planner completion z", "zsh"))


def _completions(*shell):
    done = subprocess.run(shell, capture_output=True, text=True, check=True)
    assert done.stdout.splitlines() == [expected for _, expected in COMPLETED]


@pytest.mark.skipif(shutil.which("bash") is None, reason="bash is not here")
def test_bash_completes_commands_options_and_parts(capsys):
    asked = [f'COMP_WORDS=({line}); COMP_CWORD={len(line.split()) - 1}; _planner; echo "${{COMPREPLY[@]}}"'
             for line, _ in COMPLETED]
    _completions("bash", "-c", "\n".join([_run(capsys, "completion", "bash")[1], *asked]))


@pytest.mark.optional_data
@pytest.mark.skipif(shutil.which("fish") is None, reason="fish is not here")
def test_fish_completes_them_too(capsys):
    asked = [f"complete -C '{line}'" for line, _ in COMPLETED]
    _completions("fish", "--no-config", "-c", "\n".join([_run(capsys, "completion", "fish")[1], *asked]))


@pytest.mark.optional_data
@pytest.mark.skipif(shutil.which("zsh") is None, reason="zsh is not here")
def test_zsh_completes_them_where_nothing_was_set_up_before(capsys, tmp_path):
    """A real terminal: zsh completes only what somebody types into its line editor."""
    (tmp_path / "planner.zsh").write_text(_run(capsys, "completion", "zsh")[1])
    (tmp_path / "frame_one.fits").touch()
    typed = [*COMPLETED, ("planner gear --equipment=frame_o", "--equipment=frame_one.fits")]
    child, terminal = pty.fork()
    if child == 0:
        os.chdir(tmp_path)
        os.execvpe("zsh", ["zsh", "-f", "-i"], os.environ | {"TERM": "dumb", "HOME": str(tmp_path)})
    seen = ""
    try:
        os.write(terminal, b"source planner.zsh; echo rea''dy\n")
        for line, expected in [("", "ready"), *typed]:
            os.write(terminal, f"{line}\t".encode() if line else b"")
            while expected not in seen:
                assert select.select([terminal], [], [], 20)[0], (line, seen)
                seen += os.read(terminal, 65536).decode(errors="replace").replace("\0", "")
            os.write(terminal, b"\x15")  # the line is taken back
            seen = ""
    finally:
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        os.close(terminal)


def test_a_shell_that_is_none_is_refused(capsys):
    assert "must be one of bash, zsh, fish" in _run(capsys, "completion", "csh")[2]


def test_gear_says_that_it_shows_the_demo_on_stderr(capsys):
    code, out, err = _run(capsys, "gear")
    assert code == 0
    assert "packaged demo" in err
    for word in ("nebulae", "friction", "0.077″", "0.98″", "f/4.0"):
        assert word in out


def test_gear_check_names_every_problem_a_line_each(capsys, tmp_path):
    path = written(tmp_path)
    path.write_text(path.read_text().replace('"2000 mm"', '"-2 m"').replace('"3.8 um"', '"3.8 kg"'))
    code, out, err = _run(capsys, "gear", "--check", "--equipment", path)
    assert code == 2
    assert out == ""
    assert err.splitlines() == [
        'equipment.toml: telescope "long".focal_length = "-2 m": must be at least 5 mm. '
        "Give the focal length; a reducer comes on top.",
        'equipment.toml: camera "cam".pixel_pitch = "3.8 kg": must have a unit like um. Give the side of one pixel.',
    ]
    code, out, _ = _run(capsys, "gear", "--check", "--json", "--equipment", path)
    assert code == 2
    assert json.loads(out)["problems"] == err.splitlines()


def test_gear_json_has_each_unit_in_its_key(capsys):
    document = json.loads(_run(capsys, "gear", "--json")[1])
    hill = document["sites"][0]
    assert {"latitude_deg", "longitude_deg", "height_m", "sky_brightness_mag_per_arcsec2"} <= hill.keys()
    mount = document["mounts"][0]
    assert {"wander_arcsec_per_sqrt_min", "flexure_ra_arcsec_per_h", "slew_rate_deg_per_s"} <= mount.keys()
    assert mount["periodic"][0].keys() == {"period_s", "amplitude_arcsec", "phase_deg"}
    rig = document["rigs"][0]
    # 206.2648 p/f (radians to arcsec): 3.8 um at 800 mm is half the 1.95952 arcsec of 400 mm.
    assert rig["image_scale_arcsec_per_pixel"] == pytest.approx(1.95952 / 2, rel=1e-5)
    # The small-angle rule is 0.03 % off for a field of 1.7 deg.
    assert rig["field_deg"][0] == pytest.approx(6000 * 1.95952 / 2 / 3600, rel=3e-4)
    assert document["telescopes"][0]["focal_ratio"] == 5
    assert document["cameras"][1]["dark_temperature_deg_C"] == -10
    assert document["mounts"][0]["encoder_step_arcsec"] == pytest.approx(0.0772, abs=5e-5)


def test_a_generic_drive_is_labelled(capsys, tmp_path):
    path = tmp_path / "e.toml"
    _run(capsys, "init", "--equipment", path)
    out = _run(capsys, "gear", "--equipment", path)[1]
    said = " ".join(out.split()).split('Figures of the mount "mount": ')[1]
    assert "of the class mid-range worm (common practice, no source; replace by your own drift log): " in said


def test_names_are_printed_as_text_and_never_obeyed(capsys, tmp_path):
    path = written(tmp_path, 'name = "main"', 'name = "[red]main[/red] [link=x]"')
    assert "[red]main[/red]" in _run(capsys, "gear", "--equipment", path)[1]


def test_sources_name_licences_and_papers(capsys):
    out = _run(capsys, "sources")[1]
    assert "CC BY-SA 4.0" in out
    assert "Kasten" in out
    document = json.loads(_run(capsys, "sources", "--json")[1])
    assert {"data", "libraries", "formulas", "planner_version", "schema"} == document.keys()
    assert all(item["modules"] for item in document["formulas"])


def _planner(*words, **more):
    return subprocess.run([sys.executable, "-c", "from planner.cli import main; main()", *words],
                          capture_output=True, text=True, check=False, **more)


def test_the_same_command_twice_gives_the_same_bytes():
    first, second = (_planner("gear", "--json", env=os.environ | {"PYTHONHASHSEED": seed}) for seed in "12")
    assert first.returncode == 0
    assert first.stdout == second.stdout


def test_colour_only_where_it_is_wanted():
    done = _planner("gear", env=os.environ | {"NO_COLOR": "1", "TERM": "xterm-256color"})
    assert "\x1b" not in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 110
    narrow = _planner("gear", env=os.environ | {"COLUMNS": "70"})
    assert max(map(len, narrow.stdout.splitlines())) <= 70


def test_a_terminal_without_the_signs_still_gets_its_answer():
    done = _planner("gear", env=os.environ | {"PYTHONIOENCODING": "ascii"})
    assert done.returncode == 0
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("more", [["--json"], []])
def test_a_reader_that_leaves_early_is_no_error(more):
    child = subprocess.Popen([sys.executable, "-c", "from planner.cli import main; main()", "gear", *more],
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    child.stdout.close()
    errors = child.stderr.read()
    child.stderr.close()
    assert child.wait() == 0
    assert "Traceback" not in errors
    assert "BrokenPipe" not in errors


def test_the_answer_is_there_when_the_reader_of_notes_has_left():
    child = subprocess.Popen([sys.executable, "-c", "from planner.cli import main; main()", "gear", "--json"],
                             stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    child.stderr.close()
    answer = child.stdout.read()
    child.stdout.close()
    assert child.wait() == 0
    assert json.loads(answer)["rigs"]


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="Linux has it")
@pytest.mark.parametrize("words", [["gear", "--json"], ["gear"], ["gear", "--help"]])
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_an_answer_that_finds_no_room_is_one_line(words, unbuffered):
    with open("/dev/full", "w") as full:
        done = subprocess.run([sys.executable, "-c", "from planner.cli import main; main()", *words, "--quiet"],
                              stdout=full, stderr=subprocess.PIPE, text=True, check=False,
                              env=os.environ | {"PYTHONUNBUFFERED": unbuffered})
    assert done.returncode == 2
    assert "standard output = (the answer): cannot be written (No space left on device)." in done.stderr
    assert done.stderr.count("\n") == 1


def test_closed_streams_are_no_fault():
    words = f"{sys.executable} -c 'from planner.cli import main; main()' gear --json >&- 2>&- <&-"
    assert subprocess.run(words, shell=True, check=False).returncode == 0


def test_quiet_leaves_the_notes_out(capsys):
    assert _run(capsys, "gear", "--quiet")[2] == ""
    assert _run(capsys, "-q", "gear")[:3:2] == (0, "")
    assert "packaged demo" in _run(capsys, "gear")[2]


@pytest.mark.parametrize("name", COMMANDS)
def test_help_of_a_command_may_come_first(capsys, name):
    assert _run(capsys, "help", name) == _run(capsys, name, "--help")


def test_every_document_says_its_version_and_what_it_is(capsys):
    for words, name in ([["gear"], "gear"], [["pier", "column"], "pier_column"], [["done"], "done"]):
        document = json.loads(_run(capsys, *words, "--json")[1])
        assert (document["schema"], document["planner_version"]) == (f"{name}/1", planner.__version__)


@pytest.mark.parametrize(("words", "name", "rule"), [
    (["gear", "--equipment", "/no/such.toml"], "equipment file", "is not there"),
    (["advise", "m31", "--night", "soon"], "--night", "must be a date"),
])
def test_an_error_is_json_where_json_is_asked_for(capsys, words, name, rule):
    code, out, err = _run(capsys, *words, "--json", "--quiet")
    assert (code, out, err.count("\n")) == (2, "", 1)
    document = json.loads(err)
    assert (document["error"]["name"], document["error"]["rule"]) == (name, rule)
    assert document["error"]["message"].startswith(f"{name} = ")
    assert document["schema"] == "error/1"


def test_a_usage_error_is_json_too(capsys):
    assert "No such option" in json.loads(_run(capsys, "gear", "--chekc", "--json")[2])["error"]["message"]


STEERED = "\x1b]0;title\x07\x1b[31mred\u202egnp.txt\u2066"


@pytest.mark.parametrize("words", [
    [STEERED], ["advise", STEERED], ["gear", "--equipment", STEERED], ["season", STEERED], ["done", STEERED],
    ["advise", "m31", "--filter", STEERED], ["night", "--night", STEERED], ["gear", STEERED], ["gear", f"--{STEERED}"],
])
def test_what_steers_a_terminal_never_reaches_it(capsys, words):
    code, out, err = _run(capsys, *words)
    assert code == 2
    assert not STEERING.search((out + err).replace("\n", ""))


def test_a_name_that_steers_a_terminal_is_refused(capsys, tmp_path):
    path = written(tmp_path, 'name = "main"', r'name = "\u001b[31m\u202e"')
    code, out, err = _run(capsys, "gear", "--equipment", path)
    assert code == 2
    assert "must be one line without control characters" in err
    assert not STEERING.search((out + err).replace("\n", ""))


def test_a_file_name_that_steers_a_terminal_is_shown_without(capsys, tmp_path):
    path = tmp_path / "a\x1b[31m.toml"
    code, out, _ = _run(capsys, "init", "--equipment", path)
    assert code == 0
    assert "a?[31m.toml" in out


def test_names_of_thousands_of_characters_are_one_short_line(capsys, tmp_path):
    path = written(tmp_path, 'name = "main"', f'name = "{"x" * 5000}"')
    code, _, err = _run(capsys, "gear", "--equipment", path)
    assert code == 2
    assert "must have at most 200 characters, it has 5000" in err
    assert len(err) < 600


@pytest.mark.parametrize("words", [["05", "36", "-69", "15"], ["83.8", "-5.39"], ["05:36:00", "-69:15:00"],
                                   ["05h36m", "-69d15m"], ["05 36", "-69 15"]])
def test_negative_coordinates_need_no_quotes(capsys, words):
    code, out, err = _run(capsys, "season", *words, "--site", "paddock", "--nights", "1", "--json", "--quiet")
    assert (code, err) == (0, "")
    assert json.loads(out)["targets"][0]["dec_deg"] < 0


def test_what_an_option_holds_is_left_alone():
    class Parameter:
        opts, is_flag = ("--hour-angle",), False

    class Command:
        params = (Parameter,)

    words = ["--hour-angle", "-30", "-12.5", "-x", "--", "-12"]
    assert with_negative_numbers(Command, words) == ["--hour-angle", "-30", "−12.5", "-x", "--", "-12"]


SLOW = ("astropy.coordinates", "astropy.table", "scipy.optimize", "scipy.interpolate", "scipy.special", "astroplan",
        "pandas", "streamlit", "altair", "sep", "pydantic")


@pytest.mark.parametrize(("words", "absent"), [
    ([], (*SLOW, "numpy", "astropy", "typer", "rich")), (["gear"], SLOW), (["gear", "--check"], (*SLOW, "rich.table")),
    (["init", "--help"], SLOW), (["sources"], SLOW),
])
def test_a_command_loads_only_what_it_needs(words, absent):
    code = (f"import sys\nfrom planner.cli import run\nrun({words!r})\n"
            f"print([m for m in {absent!r} if m in sys.modules])")
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
