"""The web service in one file does what it says."""

import asyncio
import importlib.util
import json
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

DOCS = Path(__file__).parents[2] / "docs"
if not DOCS.is_dir():
    pytest.skip("the documentation is not beside the tests", allow_module_level=True)

JOB = {
    "title": "by post",
    "machine": {"bed": [300, 200], "kerf": {"plywood": 0.2}},
}


def _service() -> ModuleType:
    spec = importlib.util.spec_from_file_location("web_service", DOCS / "web_service.py")
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def _asked(body: bytes, method: str = "POST") -> tuple[int, Any]:
    sent: list[dict[str, Any]] = []

    async def receive() -> dict[str, Any]:
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        sent.append(message)

    asyncio.run(_service().app({"type": "http", "method": method}, receive, send))
    return sent[0]["status"], json.loads(sent[1]["body"])


def test_the_web_service_lists_every_problem_of_a_job() -> None:
    """A job that lacks much is answered with 422, every problem, and no path of the machine."""
    status, answer = _asked(json.dumps(JOB).encode())
    assert status == 422 and len(answer["problems"]) > 1
    assert not any("/tmp" in problem for problem in answer["problems"])


def test_the_web_service_plans_a_job() -> None:
    """A whole job is answered with its plan."""
    tag = {"shape": "rectangle", "width": 60, "height": 30}
    sheet = {"shape": "rectangle", "width": 300, "height": 200}
    job = {
        "title": "by post",
        "machine": {"bed": {"width": 300, "height": 200}, "kerf": {"plywood": 0.2}},
        "settings": [{"name": "fine"}],
        "stock": [{"name": "s", "outline": sheet, "thickness": 3, "material": "plywood"}],
        "blanks": [{"name": "tag", "footprint": tag, "height": 4, "setting": "fine"}],
        "orders": [{"blank": "tag", "quantity": 3}],
    }
    status, answer = _asked(json.dumps(job).encode())
    assert status == 200, answer
    assert sum(len(load["fillings"]) for load in answer["loads"]) == 3


def test_the_web_service_refuses_other_methods_and_large_bodies() -> None:
    """Only POST is served, and a body has a limit."""
    assert _asked(b"", "GET")[0] == 405
    assert _asked(b" " * 1_000_001)[0] == 413
