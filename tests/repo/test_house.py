from __future__ import annotations

import re
from pathlib import Path

from packaging.requirements import Requirement
from repo_support import PACKAGES, ROOT, files, pyproject

TOP = {
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "pyproject.toml",
    "ingest",
    "cure",
    "alerts",
    "deploy",
    "tests",
    "shared",
}
LONGEST_MODULE = 300

# A test that mirrors no single module, and why.
FREE_TESTS: dict[str, str] = {}
FREE_FOLDERS = {
    "repo": "rules about the repository",
    "contracts": "one suite a port, run over its adapters",
    "e2e": "the whole flow",
    "browser": "pages as people get them",
    "faults": "crashes and refusals between the parts",
    "references": "published numbers, open data and other libraries, over several modules",
    "support": "builders and fakes",
}


def text_of(path: Path) -> str:
    return (ROOT / path).read_text(encoding="utf-8", errors="replace")


def test_no_module_is_longer_than_300_lines() -> None:
    lengths = {str(p): text_of(p).count("\n") for p in files() if p.suffix == ".py"}
    assert {p: n for p, n in lengths.items() if n > LONGEST_MODULE} == {}


def test_nothing_else_stands_at_the_top() -> None:
    assert {p.parts[0] for p in files() if not p.parts[0].startswith(".")} - TOP == set()


def test_there_is_one_readme_one_developers_guide_and_one_changelog() -> None:
    notes = {str(p) for p in files() if p.suffix == ".md"}
    assert {"README.md", "DEVELOPERS.md", "deploy/CHANGELOG.md"} <= notes


def test_no_file_names_a_folder_of_somebodys_machine() -> None:
    named = re.compile(r"(?<![\w$}.~\-/])/(?:home|root|work|Users|opt)/\w")
    found = [
        f"{path}: {match.group()}"
        for path in files()
        if path != Path("LICENSE")
        for match in named.finditer(text_of(path))
    ]
    assert found == []


def test_no_file_names_a_package_registry() -> None:
    hosts = [
        ".".join(parts) for parts in (("pypi", "org"), ("pythonhosted", "org"), ("npmjs", "com"), ("deb", "debian"))
    ]
    options = ["--" + name for name in ("index-url", "extra-index-url", "find-links", "trusted-host")]
    found = [f"{path}: {word}" for path in files() for word in hosts + options if word in text_of(path)]
    assert found == []


def requirements() -> dict[str, list[Requirement]]:
    """Return what constraints.txt pins, by name."""
    joined = text_of(Path("deploy/constraints.txt")).replace("\\\n", " ")
    pins: dict[str, list[Requirement]] = {}
    for line in joined.splitlines():
        if line and not line.startswith("#"):
            pin = Requirement(re.split(r"\s+--hash=", line)[0])
            pins.setdefault(pin.name, []).append(pin)
    return pins


def test_every_pin_is_exact_and_has_hashes() -> None:
    joined = text_of(Path("deploy/constraints.txt")).replace("\\\n", " ")
    lines = [line for line in joined.splitlines() if line and not line.startswith("#")]
    assert len(lines) > 20
    wrong = [
        line
        for line in lines
        if not re.fullmatch(r"[a-z0-9._-]+==\S+( ; [^@]+?)?(\s+--hash=sha256:[0-9a-f]{64})+", line)
    ]
    assert wrong == []


def test_constraints_have_no_address_and_no_path() -> None:
    text = text_of(Path("deploy/constraints.txt"))
    assert "://" not in text
    assert not re.search(r"[\w.]/\w|^\s*-", text.replace("--hash", "hash"), re.MULTILINE)


def test_every_dependency_is_pinned_to_a_version_that_it_allows() -> None:
    project = pyproject()["project"]
    wanted = [
        *project["dependencies"],
        *project["optional-dependencies"]["test"],
        *pyproject()["build-system"]["requires"],
    ]
    wanted.append("editables")
    pins = requirements()
    for need in map(Requirement, wanted):
        found = pins.get(need.name.lower(), [])
        assert found, f"{need.name} is not pinned"
        for pin in found:
            version = next(iter(pin.specifier)).version
            assert need.specifier.contains(version), f"{need.name}: {version} is outside {need.specifier}"


def mirrored(test: Path) -> bool:
    """Say whether a test file has the module, or the package, whose name it bears."""
    package = Path(*test.parts[1:-1])
    name = test.stem.removeprefix("test_")
    modules = {p.stem for p in files() if p.parent == package and p.suffix == ".py"}
    packages = {
        p.parts[len(package.parts)]
        for p in files()
        if len(p.parts) > len(package.parts) + 1 and p.is_relative_to(package)
    }
    return any(name == m or name.startswith(f"{m}_") for m in modules | packages)


def test_tests_mirror_the_tree() -> None:
    tests = [p for p in files() if p.parts[0] == "tests" and p.name.startswith("test_") and p.suffix == ".py"]
    free = [p for p in tests if p.parts[1] not in FREE_FOLDERS and str(p.relative_to("tests")) not in FREE_TESTS]
    assert [str(p) for p in free if p.parts[1] not in PACKAGES or not mirrored(p)] == []


def test_every_exception_to_the_mirror_is_still_there() -> None:
    assert [name for name in FREE_TESTS if Path("tests", name) not in files()] == []
    assert [name for name, why in {**FREE_TESTS, **FREE_FOLDERS}.items() if not why] == []


def test_every_module_that_a_contract_names_exists() -> None:
    named = [
        module
        for contract in pyproject()["tool"]["importlinter"]["contracts"]
        for key in ("source_modules", "protected_modules")
        for module in contract.get(key, ())
    ]
    missing = [
        name
        for name in named
        if not {Path(*name.split(".")).with_suffix(".py"), Path(*name.split("."), "__init__.py")} & set(files())
    ]
    assert len(named) > 10
    assert missing == []


def test_every_package_says_what_comes_in_and_what_goes_out() -> None:
    silent = [p for p in files() if p.name == "__init__.py" and p.parts[0] in PACKAGES and '"""' not in text_of(p)]
    assert silent == []


def test_ci_runs_the_contributors_gate_and_nothing_else() -> None:
    commands = [line for line in text_of(Path(".ci/run")).splitlines() if line and not line.startswith("#")]
    assert commands == ["set -euo pipefail", 'cd "$(dirname "${BASH_SOURCE[0]}")/.."', "exec sh deploy/test.sh"]
