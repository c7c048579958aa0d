"""``benchgate desk``: the page of one set-up, which follows the file, with sliders."""

from __future__ import annotations

import logging
import socket
from pathlib import Path

import click

from review.cli import options, output

LACKS = "the desk needs the packages starlette and uvicorn: pip install 'benchgate[desk]'"


@click.command()
@options.scenario_file
@click.argument("paths", nargs=-1, metavar="[PATH[=LOW..HIGH]]...")
@click.option("--port", type=click.IntRange(0, 65535), default=0, help="0: any that is free.")
@options.rules_files
@options.plugin_files
def desk(
    file: Path,
    paths: tuple[str, ...],
    port: int,
    rules: tuple[Path, ...],
    plugin: tuple[Path, ...],
) -> None:
    """Show a set-up in a browser of this machine, and review it again on each save.

    PATH is a number that gets a slider, as `range` names them; without any, flows and set
    temperatures do. The file is only read. Whoever has the address that is printed can read the
    page on this machine; nobody else can. Ctrl-C ends it.
    """
    try:
        import uvicorn

        from review.cli.serving import Served, app
    except ModuleNotFoundError as lacking:
        if lacking.name not in ("starlette", "uvicorn", "anyio"):
            raise
        raise click.ClickException(LACKS) from None
    from review.engine.reviewing import Engine

    listening = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        listening.bind(("127.0.0.1", port))
        listening.listen()
    except OSError as error:
        raise click.ClickException(f"port {port} cannot be used: {error.strerror}") from None
    host = f"127.0.0.1:{listening.getsockname()[1]}"
    served = Served(file, lambda: Engine(plugin_files=plugin, rules_files=rules), paths, host)
    output.write(f"{served.address}\nOnly for this machine; the file is only read. Ctrl-C ends it.")
    # No line of a log ever holds an address, since an address holds the token.
    logging.getLogger("uvicorn.error").setLevel(logging.CRITICAL)
    config = uvicorn.Config(app(served), access_log=False, log_level="critical", lifespan="off")
    uvicorn.Server(config).run(sockets=[listening])
