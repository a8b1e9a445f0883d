"""The house rules that a machine can hold: what lies where, and who may import, write and ask the time."""

import ast
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
APPS = ("fleet", "scheduling", "records")
PURE_ROOMS = {
    "fleet": ("flight_file", "life", "quantities"),
    "scheduling": ("due", "limits", "planner", "status", "steps", "triggers"),
    "records": ("judge", "seal"),
}
# A pure room imports the standard library, its app's other pure rooms, these, and a library if named here.
SHARED_AND_PURE = ("fleet.quantities", "fleet.common.errors", "fleet.common.wording", "scheduling.limits")
LIBRARIES = {
    "scheduling.planner.model": "ortools",
    "scheduling.planner.solve": "ortools",
    "scheduling.due.arrays": "numpy",
    "scheduling.due.forecast": "numpy",
    "records.seal.canonical": "rfc8785",
}

TOP_LEVEL = {
    "README.md",
    "DEVELOPERS.md",
    "pyproject.toml",
    "manage.py",
    "fleet",
    "scheduling",
    "records",
    "fixtures",
    "tests",
    "deploy",
}
LONGEST_FUNCTION = 40
LONGEST_FILE = 400

WRITES = {"save", "create", "bulk_create", "bulk_update", "get_or_create", "update_or_create", "delete"}
# Methods of the same names that put ink on paper, not rows into tables.
PAPER = {"canvas", "document", "workbook", "image"}
CLOCKS = {"now", "utcnow", "today", "localtime", "localdate", "gmtime", "time_ns"}


def sources(*folders: str) -> list[Path]:
    """Every Python file of these folders, migrations left out."""
    found = [path for folder in folders for path in (ROOT / folder).rglob("*.py")]
    return sorted(path for path in found if "migrations" not in path.parts)


def name_of(path: Path) -> str:
    return str(path.relative_to(ROOT))


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def tree_of(path: Path) -> ast.Module:
    return ast.parse(path.read_text(), str(path))


def pure_files() -> list[Path]:
    rooms = {f"{app}.{room}" for app, names in PURE_ROOMS.items() for room in names}
    return [path for path in sources(*APPS) if ".".join(module_of(path).split(".")[:2]) in rooms]


def imports_of(path: Path) -> Iterator[str]:
    for node in ast.walk(tree_of(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{name_of(path)}:{node.lineno} imports relatively"
            yield node.module or ""


def may_import(importer: str, imported: str) -> bool:
    top = imported.split(".")[0]
    if (
        top in sys.stdlib_module_names
        or imported.startswith(SHARED_AND_PURE)
        or LIBRARIES.get(importer) == top
    ):
        return True
    app = importer.split(".")[0]
    return imported.startswith(tuple(f"{app}.{room}" for room in PURE_ROOMS[app]))


def receiver_of(call: ast.Call) -> str:
    """The last name before the method: `workbook` in `workbook.save(file)`."""
    inner = call.func.value if isinstance(call.func, ast.Attribute) else call.func
    while isinstance(inner, ast.Attribute | ast.Call | ast.Subscript):
        if isinstance(inner, ast.Attribute):
            return inner.attr
        inner = inner.func if isinstance(inner, ast.Call) else inner.value
    return inner.id if isinstance(inner, ast.Name) else ""


def is_write(node: ast.AST) -> bool:
    """A call that changes rows. `update` without positional arguments is a queryset's, not a dictionary's."""
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
        return False
    if node.func.attr in WRITES:
        return receiver_of(node) not in PAPER
    return node.func.attr == "update" and not node.args and bool(node.keywords)


def may_write(path: Path) -> bool:
    """Services and commands write rows; the PDF folder writes paper."""
    inside = path.relative_to(ROOT).parts[1:]
    return inside[0] in ("services", "services.py", "management") or inside[:2] == ("common", "pdf")


def asks_the_time(node: ast.AST) -> bool:
    if not isinstance(node, ast.Call) or not isinstance(node.func, ast.Attribute):
        return False
    receiver = receiver_of(node)
    clocks = ("datetime", "date", "timezone", "time")
    return receiver in clocks and (node.func.attr in CLOCKS or (receiver, node.func.attr) == ("time", "time"))


def test_the_top_level_holds_only_the_agreed_entries() -> None:
    entries = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert entries - {"__pycache__"} <= TOP_LEVEL
    assert TOP_LEVEL - entries - {"fixtures"} == set()


def test_every_package_has_an_init_file_and_only_models_say_something_in_it() -> None:
    folders = {path.parent for path in sources(*APPS)}
    missing = [name_of(folder) for folder in folders if not (folder / "__init__.py").is_file()]
    talking = [
        name_of(folder)
        for folder in folders
        if folder.name != "models"
        and (folder / "__init__.py").is_file()
        and (folder / "__init__.py").read_text().strip()
    ]
    assert (missing, talking) == ([], [])


def test_pure_rooms_import_only_the_standard_library_and_each_other() -> None:
    wrong = [
        f"{name_of(path)} imports {imported}"
        for path in pure_files()
        for imported in imports_of(path)
        if not may_import(module_of(path), imported)
    ]
    assert wrong == []


def test_pure_rooms_load_where_django_cannot_be_imported() -> None:
    modules = [module_of(path) for path in pure_files() if not module_of(path).endswith("__main__")]
    assert len(modules) > 10
    program = (
        "import importlib, sys\n"
        "sys.modules.update(dict.fromkeys(['django', 'rest_framework', 'celery']))\n"
        f"for name in {modules!r}: importlib.import_module(name)\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert done.stderr == ""


def test_only_services_and_commands_write_to_the_database() -> None:
    outside = set(sources(*APPS)) - set(pure_files())
    wrong = [
        f"{name_of(path)}:{node.lineno} {ast.unparse(node)[:70]}"
        for path in sorted(outside)
        if not may_write(path)
        for node in ast.walk(tree_of(path))
        if is_write(node)
    ]
    assert wrong == []


def test_nothing_but_the_clock_asks_the_time() -> None:
    wrong = [
        f"{name_of(path)}:{node.lineno} {ast.unparse(node)}"
        for path in sources(*APPS)
        if name_of(path) != "fleet/common/clock.py"
        for node in ast.walk(tree_of(path))
        if asks_the_time(node)
    ]
    assert wrong == []


def test_no_function_is_longer_than_forty_lines() -> None:
    long = [
        f"{name_of(path)}:{node.lineno} {node.name} has {node.end_lineno - node.lineno + 1} lines"
        for path in [*sources(*APPS, "deploy", "tests"), ROOT / "manage.py"]
        for node in ast.walk(tree_of(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)
        and node.end_lineno is not None
        and node.end_lineno - node.lineno >= LONGEST_FUNCTION
    ]
    assert long == []


def own_texts() -> list[Path]:
    """Python, scripts, styles and pages written here; what came from others lies under vendor."""
    found = [path for folder in (*APPS, "deploy", "tests") for path in (ROOT / folder).rglob("*")]
    ours = [path for path in found if path.suffix in {".py", ".js", ".css", ".html"}]
    return sorted(path for path in ours if not {"vendor", "migrations"}.intersection(path.parts))


def test_no_file_is_longer_than_four_hundred_lines() -> None:
    lengths = {name_of(path): len(path.read_text().splitlines()) for path in own_texts()}
    assert {name: lines for name, lines in lengths.items() if lines > LONGEST_FILE} == {}


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("Aircraft.objects.create(name='x')", True),
        ("aircraft.save()", True),
        ("Aircraft.objects.filter(pk=1).update(name='x')", True),
        ("Aircraft.objects.all().delete()", True),
        ("words.update(other)", False),
        ("canvas.save()", False),
        ("Aircraft.objects.filter(name='x')", False),
    ],
)
def test_a_write_is_told_from_its_namesakes(line: str, expected: bool) -> None:
    assert any(is_write(node) for node in ast.walk(ast.parse(line))) is expected


@pytest.mark.parametrize(
    ("line", "expected"),
    [
        ("timezone.now()", True),
        ("datetime.datetime.now(tz=UTC)", True),
        ("date.today()", True),
        ("time.time()", True),
        ("clock.now()", False),
        ("datetime.fromisoformat(text)", False),
    ],
)
def test_a_look_at_the_time_is_told_from_other_calls(line: str, expected: bool) -> None:
    assert any(asks_the_time(node) for node in ast.walk(ast.parse(line))) is expected
