import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from suffice.assess.engine.version import BESIDE, ENGINE_VERSION, ROOMS, digest_of_engine


@pytest.fixture
def program(tmp_path: Path) -> Path:
    for room in (*ROOMS, "web"):
        shutil.copytree(str(files("suffice") / room), tmp_path / room)
    for path in BESIDE:
        (tmp_path / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(str(files("suffice") / path), tmp_path / path)
    return tmp_path


def test_the_version_names_what_computes(program: Path):
    assert ENGINE_VERSION.partition("+")[2] == digest_of_engine(program)
    assert len(digest_of_engine(program)) == 12


@pytest.mark.parametrize(
    ("place", "old", "new"),
    [
        ("knowledge/content/temperature.toml", "value = 38.0", "value = 38.1"),
        ("knowledge/content/rules/weight_flags.toml", 'compare = ">="', 'compare = ">"'),
        ("knowledge/derivation.py", "4.184", "4.185"),
        ("knowledge/series.py", "import", "import  "),
        ("knowledge/policy.py", "None if self.site_off else self.site", "self.site"),
        ("clinical/units.py", "24", "25"),
        ("inference/estimate.py", "import", "import  "),
        ("assess/ranking.py", "import", "import  "),
        ("message.py", "import", "import  "),
        ("care/caseload/summary.py", 'f.colour == "red"', 'f.colour == "amber"'),
    ],
)
def test_one_line_or_value_changes_it(program: Path, place: str, old: str, new: str):
    before, file = digest_of_engine(program), program / place
    written = file.read_text(encoding="utf-8")
    assert old in written
    file.write_text(written.replace(old, new, 1), encoding="utf-8")
    assert digest_of_engine(program) != before


@pytest.mark.parametrize("place", ["web/family/page.py", "knowledge/library.py"])
def test_a_page_does_not(program: Path, place: str):
    before, file = digest_of_engine(program), program / place
    file.write_text(file.read_text(encoding="utf-8") + "\n# more\n", encoding="utf-8")
    assert digest_of_engine(program) == before
