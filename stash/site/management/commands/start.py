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

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import DatabaseError, connection
from waitress.server import create_server

from stash.models import Studio, guards
from stash.services.refusal import Refusal
from stash.site.lock import FolderLock, Occupied

HOST = "127.0.0.1"
THREADS = 8
MOST_BODY = 2 * settings.DATA_UPLOAD_MAX_MEMORY_SIZE
FORWARDED = {"x-forwarded-for", "x-forwarded-host", "x-forwarded-proto"}


class Command(BaseCommand):
    help = (
        "Make the data folder ready and serve the studio to this machine, until Ctrl-C. Safe to repeat. Other "
        "machines reach it through a proxy on this one: see SITE_URL in the README. `--data FOLDER` keeps the "
        "studio elsewhere than in .warpshelf."
    )
    # They are run once the database is there.
    requires_system_checks: list[str] = []

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--demo", action="store_true", help="load the invented demo studio if it is not loaded"
        )
        parser.add_argument("--port", type=int, default=8000, help="default 8000; 0 takes any free one")
        parser.add_argument("--no-browser", action="store_true", help="open no browser window")

    def handle(self, *args: Any, demo: bool, port: int, no_browser: bool, **options: Any) -> None:
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
        try:
            server.run()
        finally:
            server.close()

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
        self.say("Ctrl-C stops it.")

    def say(self, text: str) -> None:
        self.stdout.write(text)
        self.stdout.flush()


def _stop(number: int, frame: FrameType | None) -> None:
    raise KeyboardInterrupt


def _bind(port: int) -> socket.socket:
    if not 0 <= port <= 65535:
        raise CommandError(f"There is no port {port}. Accepted: 1 to 65535, or 0 for any free one.")
    door = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    if sys.platform != "win32":  # there it would let two servers share one port
        door.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        door.bind((HOST, port))
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
