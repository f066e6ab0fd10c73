"""Where code stands: only commands change state, and views hold no query of their own."""

import ast
from collections.abc import Iterator
from pathlib import Path

import services

ROOT = Path(services.__file__).parent
WRITES = {
    "save",
    "create",
    "get_or_create",
    "update_or_create",
    "bulk_create",
    "bulk_update",
    "delete",
    "update",
}
MAY_WRITE = {
    "core/commands.py",  # the record of acts, the outbox, the version of a row
    "core/outbox.py",  # marks its own entries
    "core/idempotency.py",  # claims keys, and keeps the answers to them
    "company/models.py",  # makes a person, whose password no command may see in the clear
}
"""Beside each app's `commands`."""


def modules() -> Iterator[tuple[str, ast.Module]]:
    """Every module of the service but migrations."""
    for path in sorted(ROOT.rglob("*.py")):
        name = path.relative_to(ROOT).as_posix()
        if "/migrations/" not in name:
            yield name, ast.parse(path.read_text(encoding="utf-8"))


def calls(tree: ast.Module) -> Iterator[tuple[ast.Call, str, str]]:
    """Calls of methods: the call, the method, and the source of what it is called on."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
            yield node, node.func.attr, ast.unparse(node.func.value)


def is_commands(name: str) -> bool:
    """Whether a module is an app's commands, or one of them."""
    return name.endswith("/commands.py") or ("/commands/" in name and "/management/" not in name)


def test_nothing_but_commands_writes_rows() -> None:
    """A method of a manager, a query or a row. `update` of a dict or a hash is told apart by what it is
    called on."""
    found = []
    for name, tree in modules():
        if is_commands(name) or name in MAY_WRITE:
            continue
        for call, method, on in calls(tree):
            touches_rows = ".objects" in on or "_manager" in on
            if method in WRITES and (touches_rows or method in {"save", "bulk_create", "bulk_update"}):
                found.append(f"{name}:{call.lineno} {on}.{method}")
    assert found == []


def test_who_acts_does_so_through_a_command_by_keyword_and_is_named_first() -> None:
    found = []
    for name, tree in modules():
        if not is_commands(name) or name == "core/commands.py":
            continue
        for node in tree.body:
            if not isinstance(node, ast.FunctionDef) or node.name.startswith("_"):
                continue
            keywords = [each.arg for each in node.args.kwonlyargs]
            is_command = "command" in [ast.unparse(each) for each in node.decorator_list]
            if is_command and (node.args.args or node.args.posonlyargs):
                found.append(f"{name}:{node.lineno} {node.name} takes arguments by place")
            if ("actor" in keywords) != is_command and node.name != "found_company":
                found.append(f"{name}:{node.lineno} {node.name}")
            if "actor" in keywords and keywords[0] != "actor":
                found.append(f"{name}:{node.lineno} {node.name} does not begin with the actor")
    assert found == []


def test_views_pages_and_tasks_ask_queries_and_touch_no_rows_themselves() -> None:
    found = [
        f"{name}:{call.lineno} {on}.{method}"
        for name, tree in modules()
        if name.endswith(("/api.py", "/tasks.py", "/urls.py")) or "/views/" in name
        for call, method, on in calls(tree)
        if ".objects" in on or on.endswith("objects")
    ]
    assert found == []


def test_scoping_is_left_in_few_places_each_with_its_reason() -> None:
    found = {
        name
        for name, tree in modules()
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "across_companies"
    }
    assert found == {"company/queries.py"}


def test_no_code_goes_round_the_scope() -> None:
    """Neither the base manager nor SQL of one's own."""
    found = [
        f"{name}:{node.lineno} {node.attr}"
        for name, tree in modules()
        if name != "core/scoping.py"
        for node in ast.walk(tree)
        if isinstance(node, ast.Attribute)
        and node.attr in {"_base_manager", "raw", "cursor", "extra", "RawSQL"}
    ]
    assert found == []
