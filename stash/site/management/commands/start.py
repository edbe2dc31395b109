"""Make the data folder ready and serve it, until Ctrl-C."""

import gc
import os
import signal
import socket
import sys
import webbrowser
from argparse import ArgumentParser
from io import StringIO
from threading import Thread
from types import FrameType
from typing import Any
from urllib.parse import urlsplit

import segno
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection
from waitress.server import create_server

from projects.proposing.run_desk import Run
from stash.models import Studio, guards
from stash.services import desk
from stash.services.import_desk import Waiting
from stash.services.refusal import Refusal
from stash.site.backup.daily import DailyBackup
from stash.site.lock import FolderLock, Occupied
from stash.site.network import own_numbers

HOST = "127.0.0.1"
EVERY_INTERFACE = "0.0.0.0"
THREADS = 8
MOST_BODY = settings.MOST_UPLOAD + 5_000_000
FORWARDED = {"x-forwarded-for", "x-forwarded-host", "x-forwarded-proto"}


class Command(BaseCommand):
    help = (
        "Make the data folder ready and serve the studio to this machine, until Ctrl-C. Safe to repeat. Other "
        "machines reach it through a proxy on this one: see SITE_URL in the README; or over plain http on a network "
        "of your own with --network. `--data FOLDER` keeps the studio elsewhere than in .warpshelf."
    )
    # They are run once the database is there.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--demo", action="store_true", help="load the invented demo studio if it is not loaded"
        )
        parser.add_argument("--port", type=int, default=8000, help="default 8000; 0 takes any free one")
        parser.add_argument("--no-browser", action="store_true", help="open no browser window")
        parser.add_argument(
            "--network",
            nargs="?",
            const="1",
            metavar="NAME",
            help="serve the local network too, over plain http; NAME is what it calls this machine, if it has one",
        )

    def handle(
        self, *args: Any, demo: bool, port: int, no_browser: bool, network: str | None, **options: Any
    ) -> None:
        _check_network(network)
        # Ctrl-C too: a shell that starts us in the background would have us ignore it.
        for number in (signal.SIGINT, signal.SIGTERM, getattr(signal, "SIGHUP", signal.SIGTERM)):
            signal.signal(number, _stop)
        try:
            lock = FolderLock(settings.DATA)
        except Occupied as error:
            raise CommandError(f"{error} Use that one, or name another folder with --data.") from error
        try:
            door = _bind(port)
            address = f"http://{HOST}:{door.getsockname()[1]}/"
            lock.note(address)
            self.prepare(demo)
            if settings.NETWORK and not Studio.objects.exists():
                raise CommandError(
                    "This studio has no owner yet: whoever on the network came first would become it. Start it "
                    "without --network, set it up, and then start it again."
                )
            self.serve(door, address, with_browser=not no_browser)
        except KeyboardInterrupt:
            pass
        finally:
            lock.release()
        self.say("Stopped.")

    def prepare(self, demo: bool) -> None:
        """Database, its guards, the demo, the files that pages fetch."""
        try:
            call_command("migrate", interactive=False, verbosity=0)
        except DatabaseError as error:
            raise CommandError(
                f"The database cannot be used. DATABASE_URL says where it is. {error}"
            ) from error
        call_command("check", databases=["default"], stdout=StringIO())
        absent = guards.missing()
        if absent:
            raise CommandError(f"The ledger is without its guards: {', '.join(absent)}. Nothing is served.")
        if demo:
            self.load_demo()
        call_command("clearsessions")
        desk.sweep(Waiting)
        desk.sweep(Run)
        if not settings.DEBUG:
            call_command("collectstatic", interactive=False, clear=True, verbosity=0)

    def load_demo(self) -> None:
        from stash.site.demo import load_demo
        from stash.site.demo_data import DemoFileError

        if not Studio.objects.exists():
            self.say("Loading the demo studio …")
        try:
            load_demo()
        except Refusal as error:
            raise CommandError(error.message) from error
        except DemoFileError as error:
            raise CommandError(f"The demo cannot be loaded. {error}") from error

    def serve(self, door: socket.socket, address: str, *, with_browser: bool) -> None:
        from stash.site.wsgi import application

        server = create_server(application, sockets=[door], **_options())
        # What is there now stays: the collector need not walk through it at every round.
        gc.collect()
        gc.freeze()
        self.greet(address)
        if with_browser and _has_screen():
            # Some browsers return only when they are closed.
            Thread(
                target=webbrowser.open,
                args=[settings.SITE_URL if settings.BEHIND_PROXY else address],
                daemon=True,
            ).start()
        daily = DailyBackup()
        daily.start()
        try:
            server.run()
        finally:
            server.close()
            daily.stop()

    def greet(self, address: str) -> None:
        from projects.summary import chief_verdict

        studio = Studio.objects.filter(pk=1).first()
        verdict = chief_verdict() if studio else None
        if verdict:
            self.say(verdict)
        name = studio.name if studio else "A new studio"
        elsewhere = "" if connection.vendor == "sqlite" else ", its books where DATABASE_URL says"
        self.say(f"{name} is kept in {settings.DATA}{elsewhere}")
        self.say(f"Open {address}")
        if settings.BEHIND_PROXY:
            self.say(f"From elsewhere, through the proxy: {settings.SITE_URL}/")
        if studio and studio.is_demo:
            from stash.site.demo import DEMO_OWNER, DEMO_PASSWORD

            self.say(f"Sign in as {DEMO_OWNER} with the password: {DEMO_PASSWORD}")
        if settings.NETWORK:
            self.tell_network(urlsplit(address).port or 80, is_demo=bool(studio and studio.is_demo))
        self.say("Ctrl-C stops it.")

    def tell_network(self, port: int, *, is_demo: bool) -> None:
        """Where phones find the studio, as text and for their cameras, and what that exposes."""
        ways = [f"http://{host}:{port}/" for host in settings.NETWORK_HOSTS]
        if not own_numbers():
            self.say("This machine has no address on a network now. Connect it, and start it again.")
        if ways:
            self.say("Also served to the local network. Another machine there opens one of these:")
            for way in ways:
                self.say(f"  {way}")
            self.say(f"A phone's camera opens the first ({ways[0]}):")
            self.say(drawn_for_terminal(ways[0], self.stdout))
        self.say(
            "What that exposes: this is plain http. Passwords, and the cookie that keeps people signed in, cross the "
            "network in clear, and whoever listens there can come in with them. Whoever is on the network reaches "
            "the sign-in page. Do this on a network of your own, never on one of guests; for more, put a proxy with "
            "https in front (README, Behind a proxy)."
        )
        if is_demo:
            self.say("Nothing protects a demo: whoever reaches it comes in as its owner by one click.")

    def say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _stop(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def drawn_for_terminal(text: str, stream: Any) -> str:
    """A QR code of half blocks; a sentence where the terminal has no such signs."""
    drawn = StringIO()
    segno.make(text, error="m", micro=False).terminal(out=drawn, compact=True)
    try:
        drawn.getvalue().encode(getattr(stream, "encoding", None) or "ascii")
    except UnicodeEncodeError:
        return "(This terminal cannot draw the code. Type the address.)"
    return drawn.getvalue().rstrip("\n")


def _check_network(asked: str | None) -> None:
    """What does not go together with serving the network is refused before anything is written."""
    if asked is not None and not settings.NETWORK:
        raise CommandError("--network is read by manage.py, written out. Otherwise set WARPSHELF_NETWORK=1.")
    if settings.NETWORK and settings.BEHIND_PROXY:
        raise CommandError(
            "--network and SITE_URL do not go together: behind a proxy, others come through it. Leave one out."
        )
    if settings.NETWORK and settings.DEBUG:
        raise CommandError(
            "WARPSHELF_DEBUG shows the inside of the studio to everyone. Unset it to serve a network."
        )


def _bind(port: int) -> socket.socket:
    if not 0 <= port <= 65535:
        raise CommandError(f"There is no port {port}. Accepted: 1 to 65535, or 0 for any free one.")
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would let two servers share one port
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((EVERY_INTERFACE if settings.NETWORK else HOST, port))
        # Linux lets two bind one port until one of them listens: so do it now, not when all is ready.
        door.listen()
    except OSError as error:
        door.close()
        other = port + 1 if 1024 <= port < 65535 else 8000
        raise CommandError(
            f"Port {port} cannot be had ({error.strerror}). Name another: --port {other}, or --port 0 for any "
            "free one."
        ) from error
    return door


def _options() -> dict[str, Any]:
    """waitress's settings. Behind a proxy its word is believed on who asked, or every try at a password would
    seem to come from one address; nobody else's word is."""
    options: dict[str, Any] = {
        "threads": THREADS,
        "ident": None,
        "max_request_body_size": MOST_BODY,
        "clear_untrusted_proxy_headers": True,
    }
    if settings.BEHIND_PROXY:
        options |= {"trusted_proxy": HOST, "trusted_proxy_count": 1, "trusted_proxy_headers": FORWARDED}
    return options


def _has_screen() -> bool:
    """Somebody sits before this machine: a terminal, and a display where browsers need to be told of one."""
    if not sys.stdout.isatty():
        return False
    needs_display = sys.platform not in ("win32", "darwin")
    return not needs_display or any(os.environ.get(name) for name in ("DISPLAY", "WAYLAND_DISPLAY"))
