"""android/ put together and rendered once for all tests that look at it."""

from __future__ import annotations

import importlib.util
import json
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.android import toolbox


def script(name: str):
    """One of the programs in android/ as a module."""
    spec = importlib.util.spec_from_file_location(name, toolbox.ANDROID / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="session")
def tools():
    toolbox.available()


@pytest.fixture(scope="session")
def made(tools, tmp_path_factory):
    """A copy of android/ with the app put together in it, and what rendering.py tells of it."""
    tmp = tmp_path_factory.mktemp("apk")
    folder = tmp / "android"
    shutil.copytree(toolbox.ANDROID, folder, ignore=shutil.ignore_patterns("build", "__pycache__"))
    (tmp / "cadence_coach").mkdir()
    shutil.copy(toolbox.ROOT / "cadence_coach" / "__init__.py", tmp / "cadence_coach")
    script("make_apk").assemble(folder / "build" / "app", toolbox.ROOT)
    command = [toolbox.python(), Path(__file__).with_name("rendering.py"), folder, tmp / "out"]
    done = subprocess.run(command, env=toolbox.tool_env(), capture_output=True, text=True)
    assert done.returncode == 0, done.stderr[-2000:]
    return folder, json.loads(done.stdout.splitlines()[-1])
