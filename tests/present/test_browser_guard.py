"""Who the planner answers to. Requests are made by hand, sign by sign, as no browser would let a page do."""

import http.client
import json
import os
import re
import signal
import socket
import subprocess
import sys
from pathlib import Path
from urllib.parse import urlsplit

import pytest

GARDEN = Path(__file__).parents[2] / "scenes" / "garden-room.toml"
#: Starts a planner.
RUN = """
import sys
from pathlib import Path
from treatment.present.browser import serve
sys.modules["weasyprint"] = None  # the PDF has tests of its own
serve(Path(sys.argv[1]), Path(sys.argv[2]), open_browser=False)
"""
#: Run by every Python process that finds it on its path, before anything else: by the planner, by the
#: processes that it starts, and by those that they start. Each notes what it opens, makes, moves or removes.
WATCH = """
import os, sys
def watch():
    noted = os.open(os.environ["NOTES"], os.O_WRONLY | os.O_APPEND | os.O_CREAT)
    me = os.getpid()
    events = ("open", "os.rename", "os.remove", "os.mkdir", "os.rmdir", "os.link", "os.symlink")
    def note(event, args):
        if event in events:
            named = args[:1] if event in ("open", "os.mkdir", "os.remove", "os.rmdir") else args[:2]
            names = [os.fsdecode(a) for a in named if isinstance(a, (str, bytes))]
            writes = event != "open" or bool(args[2] & 0o3101 if len(args) > 2 and args[2] else False)
            for name in names:
                where = os.path.abspath(name)
                os.write(noted, f"{me}\\t{'write' if writes else 'read'}\\t{where}\\n".encode())
    sys.addaudithook(note)
if "NOTES" in os.environ:
    watch()
"""


class Planner:
    def __init__(self, subject, folder, notes):
        command = [sys.executable, "-c", RUN, str(subject), str(folder)]
        watch = notes.parent / "watch"
        watch.mkdir(exist_ok=True)
        (watch / "sitecustomize.py").write_text(WATCH, encoding="utf-8")
        path = os.pathsep.join([str(watch), *filter(None, [os.environ.get("PYTHONPATH")])])
        env = {**os.environ, "NOTES": str(notes), "PYTHONPATH": path}
        self.process = subprocess.Popen(command, stderr=subprocess.PIPE, text=True, env=env)
        line = self.process.stderr.readline()
        if "http://" not in line:
            said = self.process.communicate(timeout=60)[1]
            raise AssertionError(f"the planner did not start: {line}{said}")
        self.address = re.search(r"http://\S+", line)[0]
        parts = urlsplit(self.address)
        self.host, self.port = parts.netloc, parts.port
        self.origin = f"http://{self.host}"
        self.key, self.secret = parts.query.removeprefix("key="), parts.fragment
        self.cookie = ""

    def request(self, path="/", method="GET", **headers):
        line = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        line.putrequest(method, path, skip_host=True, skip_accept_encoding=True)
        sent = {"Host": self.host, **({"Cookie": self.cookie} if self.cookie else {})}
        sent |= {k.replace("_", "-"): v for k, v in headers.items()}
        for key, value in sent.items():
            if value is not None:
                line.putheader(key, value)
        line.endheaders()
        answer = line.getresponse()
        found = answer.status, dict(answer.getheaders()), answer.read()
        line.close()
        return found

    def enter(self):
        status, headers, _ = self.request(f"/?key={self.key}")
        assert status == 303
        self.cookie = headers["Set-Cookie"].split(";")[0]
        return headers

    def talk(self, origin="", secret=None, cookie=None, host=None):
        """First line of the answer to a websocket handshake; the socket stays open when it is 101."""
        fields = {
            "Host": host or self.host,
            "Upgrade": "websocket",
            "Connection": "Upgrade",
            "Sec-WebSocket-Key": "dGhlIHNhbXBsZSBub25jZQ==",
            "Sec-WebSocket-Version": "13",
            "Origin": self.origin if origin == "" else origin,
            "Sec-WebSocket-Protocol": f"treatment-planner, {self.secret if secret is None else secret}",
            "Cookie": self.cookie if cookie is None else cookie,
        }
        text = "GET /talk HTTP/1.1\r\n" + "".join(f"{k}: {v}\r\n" for k, v in fields.items() if v is not None)
        line = socket.create_connection(("127.0.0.1", self.port), timeout=60)
        line.sendall((text + "\r\n").encode())
        answer = line.recv(200).decode("latin-1")
        line.close()
        return int(answer.split(" ")[1])

    def stop(self, number=signal.SIGTERM):
        if self.process.poll() is None:
            self.process.send_signal(number)
        self.process.wait(20)
        self.process.stderr.close()
        return self.process.returncode


@pytest.fixture(scope="module")
def home(tmp_path_factory):
    return tmp_path_factory.mktemp("planner")


@pytest.fixture(scope="module")
def planner(home):
    pytest.importorskip("aiohttp")
    planner = Planner(GARDEN, home / "work", home / "notes.txt")
    yield planner
    planner.stop()


@pytest.fixture(scope="module")
def inside(planner):
    planner.enter()
    return planner


def test_nothing_is_given_without_the_key(planner):
    for path in ("/", "/files/planner.js", "/report", "/talk", "/?key=", "/?key=wrong", "/elsewhere"):
        status, _, body = planner.request(path)
        assert status == 403, path
        assert b"Garden" not in body


def test_the_key_opens_once(inside):
    status, headers, _ = inside.request(f"/?key={inside.key}", Cookie=None)
    assert status == 403
    assert "Set-Cookie" not in headers
    assert inside.request("/")[0] == 200


def test_the_cookie_alone_reads_and_changes_nothing(inside):
    status, _, body = inside.request("/")
    assert status == 200
    assert inside.secret.encode() not in body
    assert b"Garden" not in body
    assert inside.request("/report")[0] == 403
    assert inside.request("/report", Authorization="Bearer wrong")[0] == 403
    assert inside.talk(secret="wrong") == 403
    assert inside.talk(secret="") == 403


def test_the_secret_alone_opens_nothing(inside):
    assert inside.talk(cookie="") == 403
    assert inside.talk(cookie=inside.cookie[:-1] + "x") == 403
    assert inside.request("/report", Cookie=None, Authorization=f"Bearer {inside.secret}")[0] == 403


def test_only_its_own_page_may_talk(inside):
    assert inside.talk() == 101  # else the refusals below would prove nothing
    port = inside.port
    for origin in (
        "http://example.org", "null", None, f"https://127.0.0.1:{port}", f"http://localhost:{port}",
        f"http://127.0.0.1:{port + 1}", "http://127.0.0.1", f"http://127.0.0.1:{port}.example.org",
    ):  # fmt: skip
        assert inside.talk(origin=origin) == 403, origin


def test_a_foreign_page_is_refused_by_http_too(inside):
    secret = f"Bearer {inside.secret}"
    assert inside.request("/report", Authorization=secret)[0] == 200
    assert inside.request("/report", Authorization=secret, Origin="http://example.org")[0] == 403
    assert inside.request("/report", Authorization=secret, Sec_Fetch_Site="cross-site")[0] == 403
    assert inside.request("/report", Authorization=secret, Sec_Fetch_Site="same-site")[0] == 403


def test_a_name_that_was_made_to_point_here_is_refused(inside):
    for host in ("example.org", f"example.org:{inside.port}", f"localhost:{inside.port}", "127.0.0.1", ""):
        assert inside.request("/", Host=host)[0] in {400, 403}, host
        assert inside.talk(host=host or "x") == 403


def test_it_listens_on_the_loopback_only(inside):
    # /proc/net/tcp lists 0100007F (127.0.0.1, byte order of the machine) for this port, and nothing else.
    table = Path("/proc/net/tcp")
    if not table.exists():
        pytest.skip("no table of sockets to read")
    local = [line.split()[1] for line in table.read_text().splitlines()[1:] if line.split()[3] == "0A"]
    assert [a for a in local if a.endswith(f":{inside.port:04X}")] == [f"0100007F:{inside.port:04X}"]


def test_pages_come_with_strict_rules(inside):
    _, headers, body = inside.request("/")
    rules = headers["Content-Security-Policy"]
    assert "unsafe" not in rules
    assert "default-src 'none'" in rules
    assert "frame-ancestors 'none'" in rules
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert not re.search(rb"(?:src|href)=.?https?:", body)


def test_other_files_and_methods_are_refused(inside):
    for path in (
        "/files/../browser.py", "/files/..%2f..%2fbrowser.py", "/files/page.html",
        "/files/%2e%2e/%2e%2e/palette.py",
        "/etc/passwd", "//etc/passwd", "/files/", "/session.json", "/working-room.toml",
    ):  # fmt: skip
        assert inside.request(path)[0] in {400, 403, 404}, path
    for method in ("POST", "PUT", "DELETE", "OPTIONS"):
        assert inside.request("/", method=method)[0] in {403, 405}


def test_the_cookie_is_for_this_site_and_no_script(planner, home):
    other = Planner(GARDEN, home / "other", home / "other-notes.txt")
    try:
        cookie = other.enter()["Set-Cookie"]
        assert "HttpOnly" in cookie
        assert "SameSite=Strict" in cookie
        # Browsers send a cookie to every port of a machine: it must not open the neighbour's page.
        assert planner.request("/", Cookie=other.cookie)[0] == 403
    finally:
        other.stop()


@pytest.mark.usefixtures("inside")
def test_a_held_folder_is_refused_and_a_killed_planner_lets_go(home):
    pytest.importorskip("fcntl")
    command = [sys.executable, "-c", RUN, str(GARDEN), str(home / "work")]
    second = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert second.returncode != 0
    assert "another planner works in this folder" in second.stderr
    other = Planner(GARDEN, home / "killed", home / "killed-notes.txt")
    other.stop(signal.SIGKILL)
    again = Planner(GARDEN, home / "killed", home / "killed-notes.txt")
    assert again.stop() == 0


def test_no_file_outside_the_folder_is_touched(home, inside):
    import asyncio

    import aiohttp

    async def work():
        headers = {"Origin": inside.origin, "Cookie": inside.cookie}
        async with (
            aiohttp.ClientSession() as session,
            session.ws_connect(
                f"{inside.origin}/talk", headers=headers, protocols=["treatment-planner", inside.secret]
            ) as line,
        ):
            asks = [
                {"op": "move", "section": "seats", "index": 0, "x": 3.3, "y": 1.1},
                {"op": "set", "path": ["title"], "value": "../../title"},
                {"op": "builds", "ids": ["wool-100"]},
                {"op": "set", "path": ["budget", "amount"], "value": "60"},
                {"op": "save-room", "name": "../outside"},
                {"op": "save-room", "name": "mine"},
                {"op": "save-plan", "name": "/tmp/outside"},
                {"op": "hang", "build": "wool-100", "surface": ""},
                {"op": "rays", "rays": 5000},
                {"op": "plan"},
                {"op": "save-plan", "name": "my plan"},
            ]
            answers = []
            for number, ask in enumerate(asks):
                await line.send_str(json.dumps({**ask, "re": number}))
                while True:
                    message = json.loads((await line.receive(timeout=180)).data)
                    if message.get("re") == number and message["type"] in {"done", "refused"}:
                        answers.append(message["type"])
                        if ask["op"] not in {"rays", "plan"}:
                            break
                    # Tasks go on in a process of their own.
                    if message["type"] == "task" and not message["running"] and message["words"]:
                        assert "Nothing came of it" not in message["words"]
                        break
            await line.send_str("[" * 5000)
            await line.send_str("{}")
            return answers

    assert asyncio.run(work()) == [
        *("done", "done", "done", "done", "refused", "done", "refused", "done", "done", "done", "done")
    ]
    work_folder = (home / "work").resolve()
    assert (work_folder / "mine.toml").is_file()
    assert (work_folder / "my plan" / "report.html").is_file()
    allowed_to_read = (
        sys.prefix,
        sys.base_prefix,
        str(Path(__file__).parents[2]),
        "/usr",
        "/lib",
        "/etc",
        "/proc",
    )
    allowed_to_read += ("/dev", "/sys", str(Path(sys.executable).resolve().parents[1]))
    wrote, strange, seen = set(), [], {}
    for line in (home / "notes.txt").read_text(encoding="utf-8").splitlines():
        process, kind, name = line.split("\t", 2)
        if name == os.devnull:
            continue
        inside_folder = Path(name).is_relative_to(work_folder)
        seen.setdefault(process, set()).add(Path(name).name)
        if inside_folder and kind == "write":
            wrote.add(Path(name).name)
        if "__pycache__" in name or "matplotlib" in name:  # caches of libraries, made whatever is served
            continue
        if Path(name).is_relative_to(home / "watch"):
            continue
        if kind == "write" and not inside_folder:
            strange.append(line)
        if kind == "read" and not inside_folder and not name.startswith(allowed_to_read):
            strange.append(line)
    assert any(name.startswith(".session.json") for name in wrote)  # else nothing was noted
    # The planner and its two tasks: each was watched while it read the room.
    assert sum("working-room.toml" in names for names in seen.values()) >= 3
    assert [s for s in strange if str(home) in s] == []
    assert strange == []
