"""A web service in one file: POST a job document as JSON, get the plan as JSON back (ASGI 3.0).

Run it with any ASGI server. Planning runs in a thread, so that the service answers others meanwhile.
A job that comes over the network cannot name files of this machine: its artwork folder is empty.
"""

import asyncio
import json
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import nesting
from nesting.plan_file import plan_to_json

SECONDS = 5.0
MOST_BYTES = 1_000_000

Receive = Callable[[], Awaitable[dict[str, Any]]]
Send = Callable[[dict[str, Any]], Awaitable[None]]


async def app(scope: dict[str, Any], receive: Receive, send: Send) -> None:
    """Answer one request."""
    if scope["type"] != "http":
        raise NotImplementedError(f"{scope['type']} is not served here")
    if scope["method"] != "POST":
        await _answer(send, 405, json.dumps({"problems": ["only POST is served"]}))
        return
    body = await _body(receive)
    if body is None:
        await _answer(send, 413, json.dumps({"problems": [f"a job has {MOST_BYTES} bytes at most"]}))
        return
    await _answer(send, *await asyncio.to_thread(planned, body))


def planned(body: bytes) -> tuple[int, str]:
    """Plan a job: a status and the text of the answer."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "job.json"
        path.write_bytes(body)
        try:
            plan = nesting.make_plan(nesting.load_job(path), seconds=SECONDS)
        except nesting.InputError as error:
            return 422, json.dumps({"problems": str(error).replace(f"{folder}/", "").splitlines()})
    return 200, plan_to_json(plan)


async def _body(receive: Receive) -> bytes | None:
    body, more = b"", True
    while more:
        message = await receive()
        body, more = body + message.get("body", b""), message.get("more_body", False)
        if len(body) > MOST_BYTES:
            return None
    return body


async def _answer(send: Send, status: int, text: str) -> None:
    headers = [(b"content-type", b"application/json")]
    await send({"type": "http.response.start", "status": status, "headers": headers})
    await send({"type": "http.response.body", "body": text.encode()})
