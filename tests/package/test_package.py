#!/usr/bin/env python3
"""The installed package: files in place, a moved prefix, the library with its example, man pages,
completions, uninstall, and the same tarball twice.

usage: test_package.py BUILD_FOLDER SOURCE_FOLDER   (standard library only)"""
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

BUILD, SOURCE = (pathlib.Path(p).resolve() for p in sys.argv[1:3])
CLEAN = {"PATH": "/usr/bin:/bin", "LC_ALL": "C"}
COMMANDS = ["budget", "check", "compare", "models", "page", "plan", "readings", "risk", "run"]


def run(*command, env=None, check=True, **more):
    result = subprocess.run([str(c) for c in command], capture_output=True, text=True,
                            env={**CLEAN, **(env or {})}, **more)
    if check and result.returncode != 0:
        raise AssertionError(f"{command}: {result.returncode}\n{result.stdout}\n{result.stderr}")
    return result


class Package(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.scratch = pathlib.Path(tempfile.mkdtemp(prefix="pullrest-package-"))
        cls.stage = cls.scratch / "stage"
        run("meson", "install", "-C", BUILD, "--no-rebuild", env={"DESTDIR": str(cls.stage)})
        options = json.loads(run("meson", "introspect", BUILD, "--buildoptions").stdout)
        chosen = next(o["value"] for o in options if o["name"] == "prefix")
        prefix = cls.stage / chosen.lstrip("/")
        cls.prefix = cls.scratch / "moved here"
        shutil.copytree(prefix, cls.prefix, symlinks=True)
        cls.program = cls.prefix / "bin/pullrest"
        cls.library = next(cls.prefix.glob("lib/**/libpullrest.so")).parent

    @classmethod
    def tearDownClass(cls):
        shutil.rmtree(cls.scratch)

    def test_files_are_in_place(self):
        for file in ["include/pullrest.h", "share/pullrest/models/surfaces.yaml",
                     "share/pullrest/plots/recovery.gp", "share/man/man1/pullrest.1",
                     "share/bash-completion/completions/pullrest",
                     "share/zsh/site-functions/_pullrest",
                     "share/fish/vendor_completions.d/pullrest.fish",
                     "share/doc/pullrest/README.md", "share/doc/pullrest/scenarios/demo.yaml"]:
            self.assertTrue((self.prefix / file).is_file(), file)
        help_text = run(self.program, "--help").stdout
        for command in COMMANDS:
            self.assertIn(f"  {command} ", help_text)
            page = self.prefix / f"share/man/man1/pullrest-{command}.1"
            self.assertTrue(page.is_file(), command)

    def test_a_moved_program_finds_its_data(self):
        scenario = self.prefix / "share/doc/pullrest/scenarios/demo.yaml"
        plot = self.scratch / "demo.svg"
        result = run(self.program, "plan", scenario, "--json", "--plot", plot, cwd="/")
        json.loads(result.stdout)
        self.assertIn("<svg", plot.read_text()[:2000])

    def test_the_program_in_the_build_folder_finds_its_data(self):
        """Wherever that folder lies: the models, and the scripts of the plots."""
        plot = self.scratch / "built.svg"
        run(BUILD / "src/cli/pullrest", "plan", SOURCE / "scenarios/demo.yaml", "--json",
            "--plot", plot, cwd="/")
        self.assertIn("<svg", plot.read_text()[:2000])

    def test_a_build_folder_outside_the_tree(self):
        """The same when nothing above the build folder is the source: only its note is left."""
        folder = self.scratch / "elsewhere"
        (folder / "src/cli").mkdir(parents=True)
        shutil.copy(BUILD / "src/cli/pullrest", folder / "src/cli")
        shutil.copy(BUILD / "pullrest-source-root", folder)
        run(folder / "src/cli/pullrest", "models", cwd="/")
        (folder / "pullrest-source-root").unlink()
        lost = run(folder / "src/cli/pullrest", "models", cwd="/", check=False)
        self.assertIn("the folder of the catalogue was not found", lost.stderr)

    def test_links_of_the_installed_documents(self):
        """Every link and picture from a document to a file leads to one that is installed; what
        only the repository has must be there."""
        only = re.compile(r"^(src|tests|plots|\.ci)(/|$)")
        docs = self.prefix / "share/doc/pullrest"
        documents = sorted(docs.rglob("*.md"))
        self.assertGreater(len(documents), 15)
        checked = 0
        for document in documents:
            text = re.sub(r"^```.*?^```", "", document.read_text(), flags=re.M | re.S)
            for link in re.findall(r"\]\(([^)\s]+)\)", text):
                link = link.split("#")[0]
                if not link or re.match(r"[a-z]+:", link):
                    continue
                target = os.path.normpath(document.parent / link)
                inside = os.path.relpath(target, docs)
                checked += 1
                if only.match(inside):
                    self.assertTrue((SOURCE / inside).exists(), f"{document}: {link}")
                else:
                    self.assertTrue(os.path.exists(target), f"{document}: {link}")
        self.assertGreater(checked, 40)

    def test_no_path_of_the_build_is_in_the_program(self):
        for file in [self.program, self.library / "libpullrest.so"]:
            stripped = self.scratch / "stripped"
            run("strip", "-o", stripped, file)
            self.assertFalse(str(SOURCE).encode() in stripped.read_bytes(), file.name)

    def build_example(self, compiler, name, *flags):
        static = "-static-libpullrest" in flags
        options = run("pkg-config", "--cflags", "--libs", *(["--static"] if static else []),
                      "pullrest",
                      env={"PKG_CONFIG_PATH": str(self.library / "pkgconfig")}).stdout
        self.assertIn("-lpullrest", options)
        # the prefix has a blank in its name, on purpose: give its folders by hand
        libraries = [o for o in options.split() if o.startswith("-l")]
        if static:
            libraries = [str(self.library / "libpullrest.a") if o == "-lpullrest" else o
                         for o in libraries]
        flags = [f for f in flags if f != "-static-libpullrest"]
        out = self.scratch / name
        run(compiler, *flags, f"-I{self.prefix}/include", SOURCE / "tests/package/example.c",
            "-o", out, f"-L{self.library}", *libraries)
        return out

    def check_example(self, program, env=None):
        scenario = self.prefix / "share/doc/pullrest/scenarios/demo.yaml"
        result = run(program, scenario, *([] if env else [self.prefix / "share/pullrest/models"]),
                     env=env, cwd="/")
        self.assertTrue(result.stdout.startswith("GO: pull "), result.stdout)
        even = json.loads(run(self.program, "plan", scenario, "--json").stdout)["plans"]["even"]
        self.assertEqual(result.stdout.count("\npull "), len(even["cycles"]))

    def test_example_against_the_shared_library(self):
        example = self.build_example("gcc", "example", "-std=c99", "-pedantic", "-Wall", "-Wextra",
                                     "-Werror")
        # without a folder of models: found from where the library was loaded
        self.check_example(example, {"LD_LIBRARY_PATH": str(self.library)})

    def test_example_against_the_static_library(self):
        self.check_example(self.build_example("gcc", "example-static", "-static-libpullrest"))

    def test_the_document_quotes_the_example(self):
        example = (SOURCE / "tests/package/example.c").read_text()
        self.assertIn(f"```c\n{example}```", (SOURCE / "docs/library.md").read_text())

    def test_header_in_cpp(self):
        source = self.scratch / "header.cpp"
        source.write_text("#include <pullrest.h>\nint main() { return 0; }\n")
        run("g++", "-Wall", "-Wextra", "-Werror", "-pedantic", f"-I{self.prefix}/include",
            "-c", source, "-o", self.scratch / "header.o")

    def test_example_tells_every_mistake(self):
        bad = self.scratch / "bad.yaml"
        bad.write_text("vehicle: {weight: 3}\nwnch: 2\n")
        example = self.build_example("gcc", "example-bad")
        result = run(example, bad, check=False, env={"LD_LIBRARY_PATH": str(self.library)})
        self.assertEqual(result.returncode, 2)
        self.assertIn("bad.yaml:1:19:", result.stderr)
        self.assertIn("bad.yaml:2:1:", result.stderr)

    def test_only_public_symbols_are_exported(self):
        symbols = run("nm", "-D", "--defined-only", self.library / "libpullrest.so").stdout
        names = [s.split()[-1] for s in symbols.splitlines()]
        self.assertTrue(names)
        self.assertEqual([n for n in names if not n.startswith("pr_recovery_")], [])
        header = (SOURCE / "src/pullrest.h").read_text()
        self.assertEqual([n for n in names if f"{n}(" not in header], [])

    def test_man_pages_are_clean(self):
        for page in sorted((self.prefix / "share/man/man1").glob("pullrest*.1")):
            result = run("groff", "-man", "-Tutf8", "-ww", "-z", page)
            self.assertEqual(result.stderr, "", page.name)

    def complete(self, *words):
        script = self.prefix / "share/bash-completion/completions/pullrest"
        text = (f"source '{script}'\nCOMP_WORDS=({' '.join(repr(w) for w in words)})\n"
                f"COMP_CWORD={len(words) - 1}\n_pullrest\nprintf '%s\\n' \"${{COMPREPLY[@]}}\"\n")
        return run("bash", "-c", text, cwd=SOURCE / "scenarios").stdout.split()

    def test_bash_completion(self):
        self.assertEqual(self.complete("pullrest", "pl"), ["plan"])
        self.assertEqual(self.complete("pullrest", "plan", "--un"), ["--units"])
        self.assertEqual(self.complete("pullrest", "plan", "--units", "m"), ["metric"])
        self.assertEqual(self.complete("pullrest", "plan", "demo.y"), ["demo.yaml"])

    def test_other_completions_parse(self):
        for shell, file in [("zsh", "zsh/site-functions/_pullrest"),
                            ("fish", "fish/vendor_completions.d/pullrest.fish")]:
            if shutil.which(shell):
                run(shell, "-n", self.prefix / "share" / file)

    def test_uninstall_leaves_nothing(self):
        destination = {"DESTDIR": str(self.scratch / "gone")}
        run("meson", "install", "-C", BUILD, "--no-rebuild", env=destination)
        run("ninja", "-C", BUILD, "uninstall", env=destination)
        left = [p for p in (self.scratch / "gone").rglob("*") if not p.is_dir() or p.is_symlink()]
        self.assertEqual(left, [])

    def test_tarball_is_reproducible(self):
        if not (SOURCE / ".git").exists():
            self.skipTest("not a git checkout")
        if run("git", "-C", SOURCE, "status", "--porcelain").stdout:
            self.skipTest("the tree has changes that a tarball would not hold")
        digests = set()
        for _ in range(2):
            run("meson", "dist", "-C", BUILD, "--no-tests", env={"HOME": str(self.scratch)})
            tarball = next((BUILD / "meson-dist").glob("pullrest-*.tar.xz"))
            digests.add(hashlib.sha256(tarball.read_bytes()).hexdigest())
        self.assertEqual(len(digests), 1)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
