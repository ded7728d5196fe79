"""Run in the tools' environment: what buildozer and python-for-android make of android/, short of compiling anything.

    python rendering.py SPEC_FOLDER OUT     prints JSON: requirements, recipe order, services, packed files, ...
    python rendering.py --graph NAME,...    prints the recipe graph's answer alone

The manifest, the service's Java and the strings come out of python-for-android's own templates, with its own functions
where they are pure; its build script as a whole wants an SDK.
"""

from __future__ import annotations

import ast
import contextlib
import io
import json
import os
import sys
import types
from pathlib import Path

import jinja2
import pythonforandroid

P4A = Path(pythonforandroid.__file__).parent
COMMON = P4A / "bootstraps" / "common" / "build"
SDL = P4A / "bootstraps" / "_sdl_common" / "build"


def functions_of_build(*names: str) -> dict:
    """Functions of python-for-android's build script by name, without running the script."""
    tree = ast.parse((COMMON / "build.py").read_text())
    space: dict = {"os": os, "jinja2": jinja2}
    imports = [
        n for n in tree.body if isinstance(n, ast.Import | ast.ImportFrom) and "pythonforandroid" not in ast.unparse(n)
    ]
    wanted = [n for n in tree.body if isinstance(n, ast.FunctionDef) and n.name in names]
    lists = [n for n in tree.body if isinstance(n, ast.Assign) and "LIST_PATTERNS" in ast.unparse(n.targets[0])]
    with contextlib.suppress(ImportError):
        exec(compile(ast.Module([*imports, *lists, *wanted], []), "build.py", "exec"), space)
    return space


def graph(names: list[str]) -> dict:
    from pythonforandroid.archs import ArchAarch_64
    from pythonforandroid.bootstrap import Bootstrap
    from pythonforandroid.build import Context
    from pythonforandroid.graph import get_recipe_order_and_bootstrap

    names = [name.split("==")[0] for name in names]  # as its command line does, which keeps the versions aside
    context = Context()
    context.local_recipes = None
    context.archs = [ArchAarch_64(context)]
    context.java_build_tool = "auto"
    order, modules, bootstrap = get_recipe_order_and_bootstrap(context, names, Bootstrap.get_bootstrap("sdl2", context))
    return {"recipes": list(order), "modules": list(modules), "bootstrap": bootstrap.name}


def rendered(config, out: Path) -> dict:
    """The manifest, service Java and strings as python-for-android writes them from these settings."""
    package = f"{config.get('app', 'package.domain')}.{config.get('app', 'package.name')}".lower()
    parse = functions_of_build("parse_permissions")["parse_permissions"]
    args = types.SimpleNamespace(
        numeric_version=1026001, version="0.1", min_sdk_version=config.getint("app", "android.minapi"),
        permissions=parse(config.getlist("app", "android.permissions", [])),
        wakelock=config.getbooldefault("app", "android.wakelock", False), billing_pubkey=None, extra_manifest_xml="",
        allow_backup=str(config.getbooldefault("app", "android.allow_backup", True)).lower(), backup_rules="",
        extra_manifest_application_arguments="", android_apptheme="@android:style/Theme.NoTitleBar", window=True,
        android_used_libs=[], meta_data=[], native_services=[], launcher=False, home_app=False, package=package,
        service_class_name=config.get("app", "android.service_class_name"),
        android_entrypoint="org.kivy.android.PythonActivity", orientation="portrait", manifest_orientation="portrait",
        activity_launch_mode="singleTask", intent_filters="", add_activity=[], display_cutout="never",
        features=config.getlist("app", "android.features", []), name=config.get("app", "title"), presplash_color="#000",
    )  # fmt: skip
    services = []
    place = jinja2.FileSystemLoader([str(SDL / "templates"), str(COMMON / "templates")])
    templates = jinja2.Environment(loader=place)
    for number, line in enumerate(config.getlist("app", "services", [])):
        name, entry, *options = line.split(":")
        kinds = [o.split("=", 1)[1] for o in options if o.startswith("foregroundServiceType")]
        services.append({"name": name, "entry": entry, "options": options, "types": kinds[0] if kinds else None})
        java = templates.get_template("Service.tmpl.java").render(
            args=args, name=name, entrypoint=entry, foreground="foreground" in options, sticky="sticky" in options,
            service_id=number + 1, base_service_class=args.service_class_name.split(".")[-1],
        )  # fmt: skip
        file = out / "java" / package.replace(".", "/") / f"Service{name.capitalize()}.java"
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_text(java)
    manifest = templates.get_template("AndroidManifest.tmpl.xml").render(
        args=args, service=True, service_data=[(s["name"], s["types"]) for s in services], native_services=[],
        android_api=config.getint("app", "android.api"), debug=True, url_scheme="kivy", debug_build=True,
    )  # fmt: skip
    (out / "AndroidManifest.xml").write_text(manifest)
    strings = templates.get_template("strings.tmpl.xml").render(args=args, private_version="x", url_scheme="kivy")
    (out / "strings.xml").write_text(strings)
    return {"package": package, "services": services, "permissions": [p["name"] for p in args.permissions]}


def packed(buildozer, out: Path) -> list[str]:
    """The app's files as buildozer copies them and python-for-android packs them (private.tar), by its list of what is
    left out."""
    buildozer._copy_application_sources()
    Path(buildozer.applibs_dir).mkdir(parents=True, exist_ok=True)
    buildozer._copy_application_libs()
    buildozer._add_sitecustomize()
    space = functions_of_build("make_tar", "listfiles", "is_blacklist", "is_whitelist", "match_filename")
    unwanted = (SDL / "blacklist.txt").read_text().partition("#>")[0]  # what follows goes with recipes left out
    space["BLACKLIST_PATTERNS"] += [line.strip() for line in unwanted.splitlines() if line.strip() and line[0] != "#"]
    space["make_tar"](str(out / "private.tar"), [buildozer.app_dir], byte_compile_python=False, optimize_python=False)
    import tarfile

    with tarfile.open(out / "private.tar") as tar:
        return sorted(tar.getnames())


def main(folder: Path, out: Path) -> dict:
    from buildozer import Buildozer

    out.mkdir(parents=True, exist_ok=True)
    os.chdir(folder)
    chatter = io.StringIO()
    with contextlib.redirect_stdout(chatter):
        buildozer = Buildozer("buildozer.spec", "android")
        config = buildozer.config
        requirements = config.getlist("app", "requirements", "")
        told = {
            "requirements": requirements,
            "version": buildozer.get_version(),
            "settings": dict(config.items("app")),
            "resources": config.getlist("app", "android.add_resources", []),
            **graph(requirements),
            **rendered(config, out),
            "app_dir": buildozer.app_dir,
            "files": packed(buildozer, out),
        }
    return told


if __name__ == "__main__":
    if sys.argv[1] == "--graph":
        with contextlib.redirect_stdout(io.StringIO()):
            answer = graph(sys.argv[2].split(","))
    else:
        answer = main(Path(sys.argv[1]).resolve(), Path(sys.argv[2]).resolve())
    print(json.dumps(answer))
