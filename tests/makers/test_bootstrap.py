"""makers/bootstrap.py: what is installed when, and what the options tell the settings."""

from __future__ import annotations

from pathlib import Path

import pytest

from makers import bootstrap

PYPROJECT = """
[project]
name = "x"
version = "1"
dependencies = ["one", "two~=2.0"]
[project.optional-dependencies]
test = ["three"]
lint = ["four"]
"""


@pytest.fixture
def checkout(tmp_path: Path) -> Path:
    """A checkout in a folder with a space, with nothing but pyproject.toml."""
    root = tmp_path / "my checkout"
    root.mkdir()
    (root / "pyproject.toml").write_text(PYPROJECT, encoding="utf-8")
    return root


@pytest.fixture
def environment(tmp_path: Path) -> dict[str, str]:
    """Variables of a person who set nothing but where data goes."""
    return {"XDG_DATA_HOME": str(tmp_path), "LOCALAPPDATA": str(tmp_path)}


@pytest.mark.parametrize(
    ("arguments", "extras"),
    [
        ([], set()),
        (["serve", "--demo"], set()),
        (["test", "-x"], {"test"}),
        (["prepare"], set()),
        (["prepare", "--test", "--lint"], {"test", "lint"}),
        (["serve", "--lint"], set()),
    ],
)
def test_each_word_needs_its_own_packages(arguments: list[str], extras: set[str]) -> None:
    """Running needs the dependencies alone; testing and checking need more."""
    assert bootstrap.wanted_extras(arguments) == extras


def test_requirements_are_those_of_pyproject(checkout: Path) -> None:
    """Dependencies first, then the groups by name."""
    assert bootstrap.requirements(checkout, {"test"}) == ["one", "two~=2.0", "three"]
    assert bootstrap.requirements(checkout, set()) == ["one", "two~=2.0"]


def finished(checkout: Path, extras: str) -> Path:
    """An environment that was installed to the end with the given groups."""
    folder = checkout / ".venv"
    python = bootstrap.interpreter(folder)
    python.parent.mkdir(parents=True)
    python.touch()
    stamp = f'{{"pyproject": "{bootstrap.fingerprint(checkout)}", "extras": [{extras}]}}'
    (folder / bootstrap.STAMP).write_text(stamp, encoding="utf-8")
    return folder


def test_a_finished_environment_is_left_alone(checkout: Path) -> None:
    """Nothing is installed twice."""
    folder = finished(checkout, '"test"')

    assert bootstrap.is_current(checkout, folder, set())
    assert bootstrap.is_current(checkout, folder, {"test"})
    assert not bootstrap.is_current(checkout, folder, {"lint"})


def test_a_changed_pyproject_asks_for_an_installation(checkout: Path) -> None:
    """The stamp is over the text of pyproject.toml."""
    folder = finished(checkout, "")

    (checkout / "pyproject.toml").write_text(PYPROJECT + "# newer\n", encoding="utf-8")

    assert not bootstrap.is_current(checkout, folder, set())


@pytest.mark.parametrize("text", ["", "not json", "[]", '{"extras": 3}'])
def test_a_broken_stamp_means_not_finished(checkout: Path, text: str) -> None:
    """An installation that was cut off is done again."""
    folder = finished(checkout, "")

    (folder / bootstrap.STAMP).write_text(text, encoding="utf-8")

    assert not bootstrap.is_current(checkout, folder, set())
    assert bootstrap.installed_extras(folder) == set()


def test_the_demo_has_a_folder_and_a_database_of_its_own(
    tmp_path: Path, environment: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """--demo never meets real records, whatever DATABASE_URL says."""
    environment["DATABASE_URL"] = "postgresql://somewhere/real"

    rest = bootstrap.prepare_settings(["serve", "--demo", "--port", "8001"], environment)

    assert rest == ["serve", "--port", "8001", "--demo"]
    assert environment["STILLROOM_DATA"] == str(bootstrap.default_data_folder(environment) / "demo")
    assert "DATABASE_URL" not in environment
    assert "DATABASE_URL is left alone" in capsys.readouterr().out


def test_any_command_can_be_pointed_at_a_data_folder(tmp_path: Path, environment: dict[str, str]) -> None:
    """--data and --demo are taken off before the command sees them."""
    rest = bootstrap.prepare_settings(
        ["check_records", "--data", str(tmp_path / "a b"), "--demo"], environment
    )

    assert rest == ["check_records"]
    assert environment["STILLROOM_DATA"] == str(tmp_path / "a b" / "demo")


def test_an_option_goes_before_the_variable_and_the_variable_before_the_default(
    tmp_path: Path, environment: dict[str, str]
) -> None:
    """--data, then STILLROOM_DATA, then the user's data folder."""
    bootstrap.prepare_settings(["serve"], environment)
    by_default = environment["STILLROOM_DATA"]
    environment["STILLROOM_DATA"] = str(tmp_path / "named")
    bootstrap.prepare_settings(["serve"], environment)
    by_variable = environment["STILLROOM_DATA"]
    bootstrap.prepare_settings(["serve", "--data", str(tmp_path / "given")], environment)

    assert by_default == str(bootstrap.default_data_folder(environment))
    assert by_variable == str(tmp_path / "named")
    assert environment["STILLROOM_DATA"] == str(tmp_path / "given")


def test_a_data_folder_that_can_not_be_made_gets_a_plain_sentence(
    tmp_path: Path, environment: dict[str, str], capsys: pytest.CaptureFixture[str]
) -> None:
    """A file in the way ends the start before anything is read."""
    (tmp_path / "taken").write_text("a file")

    with pytest.raises(SystemExit):
        bootstrap.prepare_settings(["serve", "--data", str(tmp_path / "taken")], environment)

    assert "Name another: --data DIR" in capsys.readouterr().err


def test_hosts_are_this_machine_alone_unless_opened(
    environment: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """--lan adds the address that others see; names given by the owner stay."""
    monkeypatch.setattr(bootstrap, "lan_addresses", lambda: ["192.168.7.20"])
    bootstrap.prepare_settings(["serve"], environment)
    closed = environment.pop("STILLROOM_HOSTS").split(",")
    environment["STILLROOM_HOSTS"] = "records.example"
    bootstrap.prepare_settings(["serve", "--lan"], environment)
    opened = environment["STILLROOM_HOSTS"].split(",")

    assert closed == ["localhost", "127.0.0.1", "[::1]"]
    assert {"records.example", "192.168.7.20", "localhost"} <= set(opened)
    assert "*" not in opened


def test_a_named_host_is_answered(environment: dict[str, str]) -> None:
    """--host adds its own address, with brackets where it is IPv6."""
    bootstrap.prepare_settings(["serve", "--host", "10.0.0.5"], environment)
    four = environment.pop("STILLROOM_HOSTS").split(",")
    bootstrap.prepare_settings(["serve", "--host", "fd00::5"], environment)

    assert "10.0.0.5" in four
    assert "[fd00::5]" in environment["STILLROOM_HOSTS"].split(",")


def test_lan_addresses_are_seen_from_outside() -> None:
    """The loopback address is none of them."""
    assert not [address for address in bootstrap.lan_addresses() if address.startswith("127.")]
