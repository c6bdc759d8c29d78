"""A killed program loses nothing it has acknowledged; many at once all get their answer."""

from __future__ import annotations

import re
import statistics
import subprocess
import sys
import threading
import time
from pathlib import Path

from hardtack.ledger import head, history, open_ledger
from hardtack.product import loads
from tests.web.conftest import Bench, Client, serving

USERS = 50


def _serve(ledger: Path) -> tuple[subprocess.Popen[str], Client]:
    """`hardtack serve` as a person starts it, and its address as it prints it."""
    command = [
        sys.executable,
        "-u",
        "-m",
        "hardtack",
        "serve",
        "--no-browser",
        "--ledger",
        str(ledger),
        "--port",
        "0",
    ]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8")
    assert running.stdout is not None
    found = re.search(r"http://127\.0\.0\.1:\d+", running.stdout.readline())
    assert found
    client = Client(found[0])
    for _ in range(600):
        try:
            client.get("/static/x/icon.svg")
            return running, client
        except OSError:
            time.sleep(0.05)
    raise AssertionError("it does not answer")


def test_killed_in_the_middle_of_typing_it_keeps_what_it_said_it_kept(tmp_path: Path) -> None:
    place = tmp_path / "ledger.sqlite"
    running, client = _serve(place)
    product = client.post("/new", data={"kind": "cracker"}).headers["location"].split("/")[2]
    kept: list[tuple[int, str]] = []

    def type_on() -> None:
        seq = 1
        for k in range(10_000):
            area = f"0.{1000 + k} m2"
            try:
                answer = client.post(f"/p/{product}/pack/live", data={"seq": str(seq), "v:pack/area": area})
                seq = answer.json()["seq"]
                kept.append((seq, area))
            except OSError:
                return  # killed

    writer = threading.Thread(target=type_on)
    writer.start()
    while len(kept) < 3:
        time.sleep(0.01)
    running.kill()  # SIGKILL; on Windows as abruptly
    writer.join(60)
    running.wait(10)
    assert running.stdout is not None
    running.stdout.close()
    client.close()
    ledger = open_ledger(place)
    seq, area = kept[-1]
    assert len(history(ledger, product)) in (seq, seq + 1)  # the one that was on its way may have arrived
    pack = loads(head(ledger, product).text).pack
    assert pack is not None
    if head(ledger, product).step.seq == seq:
        assert pack.area.written == area
    with serving(ledger) as again:
        assert again.get(f"/p/{product}/statement").status_code == 200
    ledger.dispose()


def test_fifty_people_at_once_each_get_their_own_answer(bench: Bench, client: Client) -> None:
    benches = [bench.id] + [
        client.post("/new", data={"kind": "biscuit"}).headers["location"].split("/")[2]
        for _ in range(USERS - 1)
    ]
    answers: dict[int, tuple[int, str]] = {}
    times: list[float] = []
    together = threading.Barrier(USERS)

    def ask(k: int) -> None:
        with Client(client.base) as mine:
            together.wait()
            start = time.perf_counter()
            sent = {"seq": "1", "v:name": f"Person {k} of many"}
            answer = mine.post(f"/p/{benches[k]}/product/live", data=sent)
            times.append(time.perf_counter() - start)
            answers[k] = (answer.status_code, answer.json()["says"] if answer.ok else answer.text)

    people = [threading.Thread(target=ask, args=(k,)) for k in range(USERS)]
    for person in people:
        person.start()
    for person in people:
        person.join(120)
    assert len(answers) == USERS
    for k, (status, says) in answers.items():
        assert status == 200, says
        assert f"Person {k} of many loses" in says
    print(f"{USERS} at once: median {statistics.median(times):.2f} s, slowest {max(times):.2f} s")
