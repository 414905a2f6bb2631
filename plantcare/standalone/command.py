"""The command line `python -m plantcare`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from plantcare.standalone import modes
from plantcare.standalone.processes import ReportedError, Stopped
from plantcare.standalone.supervisor import Supervisor, say

_ABOUT = """\
Runs Plantcare on this machine with nothing else installed: PostgreSQL and a Redis-protocol server are
started from the installed packages on free ports of 127.0.0.1. This is for evaluation and as a convenience
for small sites; it is no managed database: no backups, no replicas. For a plant use docker-compose.yml or
servers of your own.

DATABASE_URL and REDIS_URL, each by itself, replace our server by yours when they are set."""


def main(argv: list[str] | None = None) -> int:
    """Do what the command line says and return the exit code."""
    words = sys.argv[1:] if argv is None else argv
    parser = _parser()
    if not words:
        parser.print_help()
        return 0
    if words[0] == "test":  # whatever follows is pytest's, also what looks like an option of ours
        return _guarded(parser.parse_args(["test"]), words[1:])
    wanted = parser.parse_args(words)
    return _guarded(wanted, getattr(wanted, "arguments", []))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python -m plantcare", description=_ABOUT, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    for name, about in (
        ("demo", "the whole service with an invented plant to look at"),
        ("up", "the whole service, empty, for a plant of your own"),
    ):
        command = commands.add_parser(
            name, help=about, description=f"Run {about}. For evaluation and small sites."
        )
        command.add_argument("--port", type=_port, help=f"default: {modes.USUAL_PORT}, or the next free one")
        command.add_argument(
            "--data", type=Path, help="folder that keeps the data (default: .plantcare beside the code)"
        )
        command.add_argument("--fresh", action="store_true", help="forget the data kept in the folder first")
    manage = commands.add_parser("manage", help="manage.py with the addresses of these servers")
    manage.add_argument("--data", type=Path, help="the data folder of the service that is meant")
    manage.add_argument("--demo", action="store_true", help="the demo's default folder, not the plant's")
    manage.add_argument("arguments", nargs=argparse.REMAINDER, help="what manage.py is to do")
    commands.add_parser("test", help="pytest on scratch servers; takes pytest's own arguments")
    bench = commands.add_parser("bench", help="the benchmarks, on scratch servers: ratios, never seconds")
    bench.add_argument("arguments", nargs=argparse.REMAINDER, help="names of benchmarks, --rounds N")
    return parser


def _port(text: str) -> int:
    number = int(text)
    if not 1 <= number <= 65535:
        message = "a port is a number from 1 to 65535"
        raise argparse.ArgumentTypeError(message)
    return number


def _guarded(wanted: argparse.Namespace, arguments: list[str]) -> int:
    """Run the command; whatever ends it, everything it started is stopped before we return."""
    supervisor = Supervisor()
    try:
        with supervisor:
            return _run(supervisor, wanted, arguments)
    except Stopped:
        say("Stopped.")
        return 128 + supervisor.request.received[0]
    except ReportedError as failure:
        print(failure, file=sys.stderr, flush=True)
        return 1


def _run(supervisor: Supervisor, wanted: argparse.Namespace, arguments: list[str]) -> int:
    if wanted.command == "test":
        return modes.test(supervisor, arguments=arguments)
    if wanted.command == "bench":
        return modes.bench(supervisor, arguments=arguments)
    if wanted.command == "manage":
        name = "demo" if wanted.demo else "plant"
        return modes.manage(supervisor, name=name, data=wanted.data, arguments=arguments)
    name = "demo" if wanted.command == "demo" else "plant"
    return modes.serve(supervisor, name=name, data=wanted.data, port=wanted.port, fresh=wanted.fresh)
