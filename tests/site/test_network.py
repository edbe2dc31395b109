"""Serving the local network: on request only, with every host settled beforehand, and said plainly.

The processes here are called at addresses of this machine's own loopback alone; 127.0.0.2 is one that only a
server on every interface answers.
"""

import re
import socket
import sys
from io import BytesIO, StringIO, TextIOWrapper

import pytest
import zxingcpp
from django.core.exceptions import ImproperlyConfigured
from PIL import Image

from stash.site import network
from stash.site.environment import read_network
from stash.site.management.commands.start import drawn_for_terminal
from tests.site.processes import Visitor, manage, started, with_empty_books

pytestmark = pytest.mark.once
ON_LINUX = pytest.mark.skipif(sys.platform != "linux", reason="127.0.0.2 is loopback unasked on Linux alone.")


@pytest.fixture(scope="module")
def served(tmp_path_factory):
    """A demo studio on the network, under a name of its own."""
    folder = tmp_path_factory.mktemp("network")
    with started("--demo", "--network", "loft.example", "--data", str(folder)) as server:
        yield server, folder


@ON_LINUX
def test_on_request_every_interface_answers(served):
    server, _ = served
    port = Visitor(server.address).place.port
    visitor = Visitor(f"http://127.0.0.2:{port}/", Host=f"loft.example:{port}")
    assert visitor.get("/sign-in/").status == 200


@ON_LINUX
def test_by_default_only_this_machine_is_served(tmp_path):
    with started("--data", str(with_empty_books(tmp_path))) as server:
        port = Visitor(server.address).place.port
        with socket.socket() as caller, pytest.raises(ConnectionRefusedError):
            caller.settimeout(5)
            caller.connect(("127.0.0.2", port))
        assert not any("network" in line.casefold() for line in server.lines)


def test_it_answers_to_the_printed_addresses_and_to_no_others(served):
    server, _ = served
    port = Visitor(server.address).place.port
    printed = re.findall(r"^  http://(\S+)/$", "\n".join(server.lines), re.M)
    assert printed[0] == f"loft.example:{port}"
    assert {f"{number}:{port}" for number in network.own_numbers()} <= set(printed)
    for host in printed:
        assert Visitor(server.address, Host=host).get("/sign-in/").status == 200
    assert Visitor(server.address, Host="elsewhere.example").get("/sign-in/").status == 400


def test_forms_of_those_addresses_are_taken_and_of_others_not(served):
    server, _ = served
    port = Visitor(server.address).place.port
    host = f"loft.example:{port}"
    visitor = Visitor(server.address, Host=host, Origin=f"http://{host}")
    assert visitor.post("/sign-in/demo/", {}, page="/sign-in/").status == 302
    foreign = Visitor(server.address, Host=host, Origin="http://elsewhere.example")
    assert foreign.post("/sign-in/demo/", {}, page="/sign-in/").status == 403


def test_a_phone_comes_in_by_its_code_from_another_address(served):
    server, _ = served
    port = Visitor(server.address).place.port
    at_desk = Visitor(server.address)
    at_desk.post("/sign-in/demo/", {}, page="/sign-in/")
    shown = at_desk.post("/studio/phone/", {"make": "1"}, page="/studio/phone/").text
    assert f"http://loft.example:{port}/sign-in/phone/" in shown
    typed = re.search(r'<p class="big">(.*?)</p>', shown)[1]
    phone = Visitor(server.address, Host=f"loft.example:{port}")
    answer = phone.post("/sign-in/phone/", {"code": typed}, page="/sign-in/phone/")
    assert (answer.status, answer.headers["Location"]) == (302, "/")
    assert phone.get("/yarn/").status == 200


def test_it_says_what_that_exposes(served):
    text = "\n".join(served[0].lines)
    for words in (
        "plain http",
        "Passwords",
        "the cookie that keeps people signed in",
        "reaches the sign-in page",
        "a proxy with https",
        "Nothing protects a demo",
    ):
        assert words in text


def picture(text):
    """Half blocks as they look in a terminal: each sign is two modules, one above the other."""
    rows = [re.sub(r"\x1b\[[\d;]*m", "", line) for line in text.splitlines()]
    signs = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0), "\xa0": (0, 0)}
    rows = [row for row in rows if row and set(row) <= set(signs)]
    pixels = [[signs[sign][half] for sign in row] for row in rows for half in (0, 1)]
    wide = len(pixels[0])
    drawn = Image.new("L", (wide, len(pixels)))
    drawn.putdata([one for row in pixels for one in row[:wide]])
    return drawn.resize((wide * 5, len(pixels) * 5), Image.Resampling.NEAREST)


def test_the_terminal_shows_a_code_that_a_phone_reads(served):
    server, _ = served
    port = Visitor(server.address).place.port
    lines = server.lines
    at = next(number for number, line in enumerate(lines) if line.startswith("A phone's camera")) + 1
    found = zxingcpp.read_barcode(picture("\n".join(lines[at:-1])))
    assert found.text == f"http://loft.example:{port}/"


def test_a_terminal_without_such_signs_is_told_to_type():
    plain = TextIOWrapper(BytesIO(), encoding="ascii")
    assert drawn_for_terminal("http://192.168.1.20:8000/", plain) == (
        "(This terminal cannot draw the code. Type the address.)"
    )
    assert "█" in drawn_for_terminal("http://192.168.1.20:8000/", TextIOWrapper(BytesIO(), encoding="utf-8"))
    assert "Type the address" in drawn_for_terminal("http://192.168.1.20:8000/", StringIO())


def test_a_studio_without_an_owner_is_not_given_to_the_first_comer(tmp_path):
    done = manage("start", "--port", "0", "--network", "--data", str(with_empty_books(tmp_path)))
    assert done.returncode == 1
    assert "This studio has no owner yet" in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize(
    ("environment", "words"),
    [
        ({"SITE_URL": "https://shelf.example"}, "--network and SITE_URL do not go together"),
        ({"WARPSHELF_DEBUG": "1"}, "WARPSHELF_DEBUG shows the inside"),
    ],
)
def test_what_does_not_go_with_it_is_refused_before_anything_is_made(tmp_path, environment, words):
    done = manage("start", "--port", "0", "--network", "--data", str(tmp_path), **environment)
    assert done.returncode == 1
    assert words in done.stderr
    assert not (tmp_path / "studio.sqlite3").exists()


def test_a_name_that_is_none_stops_it_with_what_would_be_accepted(tmp_path):
    done = manage("start", "--port", "0", "--network", "http://loft.example", "--data", str(tmp_path))
    assert done.returncode == 1
    assert "without http:// and port" in done.stderr


def test_the_environment_does_the_same_and_a_cut_off_option_is_not_half_obeyed(tmp_path):
    done = manage("start", "--port", "0", "--data", str(with_empty_books(tmp_path)), WARPSHELF_NETWORK="1")
    assert "This studio has no owner yet" in done.stderr
    done = manage("start", "--port", "0", "--netw", "--data", str(tmp_path))
    assert done.returncode == 1
    assert "written out" in done.stderr


@pytest.mark.parametrize(
    ("text", "read"),
    [
        ("", (False, [])),
        ("0", (False, [])),
        ("no", (False, [])),
        ("1", (True, [])),
        ("yes", (True, [])),
        ("Loft.Example", (True, ["loft.example"])),
        ("loft.example., shelf", (True, ["loft.example", "shelf"])),
    ],
)
def test_what_the_setting_may_say(text, read):
    assert read_network({"WARPSHELF_NETWORK": text}, "WARPSHELF_NETWORK") == read


@pytest.mark.parametrize("text", ["*", "loft example", "http://loft", "loft:8000", ",", "-loft"])
def test_what_it_may_not_say(text):
    with pytest.raises(ImproperlyConfigured, match="1 for yes, 0 for no"):
        read_network({"WARPSHELF_NETWORK": text}, "WARPSHELF_NETWORK")


def test_own_numbers_are_no_loopback():
    assert not any(number.startswith("127.") for number in network.own_numbers())


def test_the_number_on_the_way_out_comes_first(monkeypatch, tmp_path):
    routes = tmp_path / "route"
    routes.write_text("Iface\tDestination\tGateway\nbr7\t00C8A8C0\t0\nwl0\t00000000\t0102A8C0\n")
    monkeypatch.setattr(network, "_ROUTES", routes)
    assert network._interfaces_on_the_way_out() == {"wl0"}
    monkeypatch.setattr(network, "_ROUTES", tmp_path / "none")
    assert network._interfaces_on_the_way_out() == set()


@pytest.mark.parametrize(
    ("host", "names"),
    [
        ("Loom", ["loom.local", "loom"]),
        ("loom.example", ["loom.example"]),
        ("localhost", []),
        ("my loom", []),
    ],
)
def test_names_of_this_machine(monkeypatch, host, names):
    monkeypatch.setattr(socket, "gethostname", lambda: host)
    assert network.own_names() == names


def test_where_interfaces_cannot_be_asked_the_name_is(monkeypatch):
    monkeypatch.setattr(sys, "platform", "elsewhere")
    answers = [
        (None, None, None, "", (number, 0)) for number in ("127.0.1.1", "192.168.1.20", "192.168.1.20")
    ]
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_: answers)
    assert network.own_numbers() == ["192.168.1.20"]
