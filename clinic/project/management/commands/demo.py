"""The demo clinic: migrated, seeded once, served, with the background work in the same process."""

from __future__ import annotations

import errno
import socket
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import CommandError, call_command
from django.core.management.base import BaseCommand
from django.core.servers.basehttp import run
from django.core.wsgi import get_wsgi_application
from django.utils import timezone

from clinic.people.models import Client
from clinic.project import background
from clinic.project.demo.seed import seed_demo

CLIENTS, MONTHS = 60, 6


class Command(BaseCommand):
    help = "Set up and serve the invented demo clinic."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--port", type=int, default=8000)
        parser.add_argument("--clients", type=int, default=CLIENTS, help="how many clients to invent")
        parser.add_argument("--months", type=int, default=MONTHS, help="how far back their story goes")
        parser.add_argument("--seed", type=int, default=7, help="the same number gives the same clinic")
        parser.add_argument("--no-serve", action="store_true", help="only set up")

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEMO:
            raise CommandError("Start the demo with: python3 manage.py demo")
        call_command("migrate", verbosity=0)
        if Client.objects.exists():
            self.stdout.write("The demo clinic is already there; its data are kept in .data/ (delete it to start anew).")
        else:
            seed_demo(
                clients=options["clients"], months=options["months"], seed=options["seed"], now=timezone.now(),
                progress=True,
            )
        if options["no_serve"]:
            return
        port = _free_port(options["port"])
        settings.PUBLIC_URL = f"http://127.0.0.1:{port}"
        background.start()
        self._announce(settings.PUBLIC_URL)
        run("127.0.0.1", port, get_wsgi_application(), threading=True)

    def _announce(self, url: str) -> None:
        self.stdout.write(
            f"\n  The demo clinic is open at {url}/\n\n"
            f"  Be anyone, without a password:   {url}/demo/\n"
            f"  Mail that would have gone out:   {url}/inbox/\n"
            f"  Or sign in as a client by mail:  {url}/account/login/   (any client's address; see /clients/ as the desk)\n"
            "\n  Everybody in it is invented. Stop with Ctrl-C.\n"
        )
        self.stdout.flush()


def _free_port(wanted: int) -> int:
    """`wanted`, or the next of twenty ports that nobody listens on."""
    for port in range(wanted, wanted + 20):
        with socket.socket() as probe:
            probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            try:
                probe.bind(("127.0.0.1", port))
            except OSError as error:
                if error.errno != errno.EADDRINUSE:
                    raise
            else:
                return port
    raise CommandError(f"Ports {wanted} to {wanted + 19} are all in use; give another with --port.")
