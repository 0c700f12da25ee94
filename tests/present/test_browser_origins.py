"""What comes from elsewhere, in Debian's chromium: pages of other origins, and names that are no names."""

import json
import re
import subprocess
import sys

import pytest
from browser_hands import SCENES, settled

pytestmark = pytest.mark.browser


HOSTILE = "</script><img src=x onerror=alert(1)>\\\"'${7*7}{{7*7}}"


def test_a_page_of_another_origin_is_refused(visit, tmp_path):
    planner, page = visit()
    secret = page.context.storage_state()["origins"][0]["localStorage"][0]["value"]
    port = planner.address.split(":")[2].split("/")[0]
    (tmp_path / "evil").mkdir()
    (tmp_path / "evil" / "index.html").write_text("<p>evil", encoding="utf-8")
    command = [sys.executable, "-um", "http.server", "0", "--bind", "127.0.0.1", "-d", str(tmp_path / "evil")]
    other = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        # The same machine, the same cookies, and even the secret: only the origin differs.
        foreign = page.context.new_page()
        foreign.goto(re.search(r"http://\S+/", other.stdout.readline())[0])
        tried = """([port, secret]) => new Promise((done) => {
            const line = new WebSocket(`ws://127.0.0.1:${port}/talk`, ["treatment-planner", secret]);
            line.onopen = () => done("open"); line.onerror = () => done("refused"); })"""
        assert foreign.evaluate(tried, [port, secret]) == "refused"
        assert foreign.evaluate(tried, [port, "wrong"]) == "refused"
        read = "(port) => fetch(`http://127.0.0.1:${port}/`).then(() => 'read', () => 'refused')"
        assert foreign.evaluate(read, port) == "refused"
        frame = """(port) => new Promise((done) => { const f = document.createElement("iframe");
            f.src = `http://127.0.0.1:${port}/`; f.onload = () => done(f.contentDocument ? "seen" : "closed");
            document.body.append(f); })"""
        assert foreign.evaluate(frame, port) == "closed"
    finally:
        other.terminate()
        other.wait(10)
        other.stdout.close()
    page.bring_to_front()
    page.reload()
    page.wait_for_selector("#facts")


def test_hostile_names_are_shown_as_text(visit, tmp_path):
    text = (SCENES / "garden-room.toml").read_text(encoding="utf-8")
    hostile = json.dumps(HOSTILE[:40])
    text = text.replace('name = "centre"', f"name = {hostile}").replace('"Garden-room cinema"', hostile)
    scene = tmp_path / "hostile.toml"
    scene.write_text(text, encoding="utf-8")
    _, page = visit(scene)
    settled(page)
    assert page.inner_text("#title") == HOSTILE[:40]
    for view in ("One surface", "In the round", "From above"):
        page.click(f"text={view}")
    assert page.locator("img").count() == 0
