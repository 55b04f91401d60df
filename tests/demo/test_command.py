"""`script/demo` as somebody at a terminal meets it."""

import os
from pathlib import Path
import socket
import subprocess
import sys

import pytest

ROOT = Path(__file__).parents[2]


def demo(*arguments: str, timeout_s: float = 150) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "demo", *arguments],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": ""},
        capture_output=True,
        text=True,
        timeout=timeout_s,
        check=False,
    )


def test_a_busy_port_gets_one_line(socket_enabled: None) -> None:
    with socket.socket() as busy:
        busy.bind(("127.0.0.1", 0))
        busy.listen()
        port = busy.getsockname()[1]
        result = demo("--once", "--port", str(port))
    assert result.returncode == 2
    assert result.stderr == (
        f"demo: port {port} is in use; choose another one with --port\n"
    )


@pytest.mark.parametrize("port", ["0", "70000", "galley"])
def test_a_port_that_is_none_gets_one_line(port: str) -> None:
    result = demo("--port", port)
    assert result.returncode == 2
    assert len(result.stderr.splitlines()) == 1
    assert port in result.stderr


def test_a_missing_package_gets_one_line(tmp_path: Path) -> None:
    """Without the platform's packages only the standard library is left."""
    result = subprocess.run(
        [sys.executable, "-S", "-m", "demo", "--once"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert result.returncode == 2
    assert len(result.stderr.splitlines()) == 1
    assert "script/setup" in result.stderr
