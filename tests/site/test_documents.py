"""What README and DEVELOPERS say is there, is there."""

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.core.management import get_commands, load_command_class

from stash.models import Role

ROOT = settings.CODE
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
BLOCKS = re.findall(r"^```sh\n(.*?)^```", README, re.M | re.S)
OURS = {name for name, app in get_commands().items() if app in ("stash", "projects", "stash.site")}


def table_after(heading, text=README):
    """The first cells of the table under a heading."""
    part = text.split(f"{heading}\n", 1)[1].split("\n#", 1)[0]
    return re.findall(r"^\| `?([\w-]*\w)`? \|", part, re.M)[1:]


def test_the_first_block_leads_from_a_clone_to_the_demo_and_the_second_to_the_tests():
    assert BLOCKS[0].splitlines()[-1] == ".venv/bin/python manage.py start --demo"
    assert BLOCKS[1].splitlines()[-1] == ".venv/bin/python -m pytest"
    for block in BLOCKS[:2]:
        assert block.splitlines()[0] == "python3 -m venv .venv"
    assert README.index("## ") > README.index(BLOCKS[1])


def test_every_command_of_ours_is_told_and_every_told_one_is_ours():
    assert sorted(table_after("### Commands")) == sorted(OURS)
    assert set(re.findall(r"manage\.py (\w+)", README)) <= OURS


def test_every_option_that_is_told_of_start_is_taken():
    start = load_command_class("stash.site", "start").create_parser("manage.py", "start")
    taken = {name for action in start._actions for name in action.option_strings} | {"--data"}
    told = set(re.findall(r"(?<=[\s`])--[a-z-]*[a-z]", README)) - {"--quiet", "--editable"}
    assert told <= taken
    assert {"--demo", "--port", "--no-browser", "--data"} <= told


def test_every_setting_that_is_read_is_told_and_no_other():
    source = (ROOT / "stash/site/settings.py").read_text()
    read = set(re.findall(r'os\.environ, "(\w+)"', source))
    assert set(table_after("### Settings")) == read
    assert read <= set(source.split('"""')[1].split())


def test_every_role_is_told():
    assert table_after("### Roles") == [role.value for role in Role]


def test_the_limit_on_wrong_passwords_is_told_as_it_is():
    assert (settings.AXES_FAILURE_LIMIT, settings.AXES_COOLOFF_TIME.total_seconds()) == (6, 15 * 60)
    assert "Six wrong passwords" in README and "15 minutes" in README


@pytest.mark.parametrize("text", [README, DEVELOPERS], ids=["README", "DEVELOPERS"])
def test_every_file_that_is_named_exists(text):
    named = set(re.findall(r"[`(]((?:stash|projects|tests|fixtures|\.ci)/[\w/.-]*)[`)]", text))
    named |= set(re.findall(r"`([A-Z]+(?:\.md)?|manage\.py|pyproject\.toml)`", text)) & {
        path.name for path in Path(ROOT).iterdir()
    }
    assert named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_every_dependency_has_its_reason():
    project = (ROOT / "pyproject.toml").read_text().split("[tool.")[0]
    names = re.findall(r'^  "([A-Za-z0-9_-]+)', project, re.M)
    assert names
    told = table_after("## Packages and their reasons", DEVELOPERS)
    assert sorted(names, key=str.casefold) == sorted(told, key=str.casefold)


def test_every_marker_is_told():
    markers = re.findall(r'^  "(\w+): ', (ROOT / "pyproject.toml").read_text(), re.M)
    assert sorted(table_after("### Markers", DEVELOPERS)) == sorted(markers)
