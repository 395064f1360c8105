#!/usr/bin/env python3
"""What goes wrong around the program: memory that runs out, disks that are full, signals, clocks, a
gnuplot that misbehaves, files that are too big. In every case the exit status is as documented, the
old output is whole or the new one is, and nothing is left lying about.

Usage: test_faults.py BREAKER (breaker.c as a shared library; none where it cannot be loaded)"""

import json
import os
import resource
import signal
import subprocess
import sys
import time
import unittest

sys.path.insert(0, os.path.join(os.environ["PR_SOURCE_DIR"], "tests", "support"))
import program  # noqa: E402
from program import (DONE, FAILED, NO, PROGRAM, SOURCE, USAGE, call,  # noqa: E402
                     environment)

BREAKER = sys.argv.pop(1) if len(sys.argv) > 1 else ""
GO = os.path.join(SOURCE, "tests", "cli", "go.yaml")
RISK = os.path.join(SOURCE, "scenarios", "risk-swamp.yaml")
MIB = 1 << 20
LID = 400 * MIB if BREAKER else resource.RLIM_INFINITY  # sanitizers map terabytes


def limit(kind, most):
    return lambda: resource.setrlimit(kind, (most, most))


class Case(program.Case):
    def fake_gnuplot(self, script):
        """A PATH on which gnuplot is this script."""
        os.makedirs(self.path("bin"), exist_ok=True)
        path = self.path("bin/gnuplot", "#!/bin/sh\n" + script)
        os.chmod(path, 0o755)
        os.makedirs(self.path("scratch"), exist_ok=True)
        return environment(PATH=self.path("bin") + ":/usr/bin:/bin", TMPDIR=self.path("scratch"))

    def nothing_left(self, *names):
        self.assertEqual(sorted(os.listdir(self.folder)), sorted(names))


@unittest.skipUnless(BREAKER, "the breaker cannot be loaded into this build")
class Memory(Case):
    def every_allocation(self, *arguments, step=1):
        out = self.path("out.txt")
        count = self.path("count")
        self.expect(DONE, *arguments, "--output", out,
                    env=environment(LD_PRELOAD=BREAKER, BREAK_COUNT=count))
        whole = self.read("out.txt")
        allocations = int(self.read("count"))
        os.unlink(count)
        self.assertGreater(allocations, 50)
        failed = 0
        for n in range(1, allocations + 1, step):
            self.path("out.txt", "precious")
            result = call(*arguments, "--output", out,
                               env=environment(LD_PRELOAD=BREAKER, BREAK_ALLOCATION=str(n)))
            told = f"allocation {n}: {result.stderr.decode()}"
            self.assertIn(result.returncode, (DONE, FAILED), told)
            if result.returncode == DONE:  # of no consequence: a buffer, a folder flushed
                if n < 60 and b"\\xc2" in self.read("out.txt"):
                    # the C library could not load its letters: degree signs are spelled out
                    self.assertEqual(self.read("out.txt").split(b"\n")[0], whole.split(b"\n")[0])
                    continue
                self.assertEqual(self.read("out.txt"), whole, told)
            else:
                failed += 1
                self.assertNotEqual(result.stderr, b"", told)
                self.assertEqual(self.read("out.txt"), b"precious", told)
            self.nothing_left("out.txt")
        # the others matter little: a text of the JSON is then copied once more, and the like
        self.assertGreater(failed, 0.5 * allocations / step)

    def test_every_allocation_of_a_plan_fails_once(self):
        self.every_allocation("plan", GO)

    def test_every_seventh_allocation_of_a_plan_as_json_fails_once(self):
        self.every_allocation("plan", GO, "--json", step=7)

    def test_every_allocation_of_a_check_fails_once(self):
        self.every_allocation("check", GO)

    def test_little_memory_in_all(self):
        """A lid on the address space, lower and lower: an answer, or out of memory."""
        answers = set()
        for mib in (256, 64, 32, 24, 20, 16, 14, 12):
            result = call("plan", GO, preexec_fn=limit(resource.RLIMIT_AS, mib * MIB))
            # 127: the loader could not map the libraries, before the program began
            self.assertIn(result.returncode, (DONE, FAILED, 127), result.stderr.decode())
            answers.add(result.returncode)
        self.assertIn(DONE, answers)


class Disk(Case):
    def test_a_file_size_limit_is_an_error_and_keeps_the_old_file(self):
        for arguments in (["plan", GO, "--output"], ["plan", GO, "--json", "--output"],
                          ["plan", GO, "--csv"], ["page", GO, "--output"]):
            out = self.path("old", "precious")
            result = self.expect(FAILED, *arguments, out,
                                 preexec_fn=limit(resource.RLIMIT_FSIZE, 512))
            self.assertIn("too large", result.stderr.decode())
            self.assertEqual(self.read("old"), b"precious")
            self.nothing_left("old")

    @unittest.skipUnless(os.path.exists("/dev/full"), "no /dev/full here")
    def test_full_disk_for_every_command(self):
        for arguments in (["plan", GO], ["run", os.path.join(SOURCE, "scenarios",
                                                             "schedule-pulls.yaml")],
                          ["compare", GO, GO], ["budget", GO], ["readings", GO],
                          ["risk", GO, "--samples", "200"], ["check", GO], ["models"]):
            with open("/dev/full", "w", encoding="utf-8") as full:
                result = subprocess.run([PROGRAM, *arguments], stdout=full, env=environment(),
                                        stderr=subprocess.PIPE, timeout=120, check=False)
            self.assertEqual(result.returncode, FAILED, arguments)
            self.assertIn("No space left", result.stderr.decode())
            result = self.expect(FAILED, *arguments, "--output", "/dev/full")
            self.assertIn("No space left", result.stderr.decode())

    def test_a_place_that_takes_no_files(self):
        result = self.expect(FAILED, "plan", GO, "--output", "/proc/plan.txt")
        self.assertIn("/proc/plan.txt", result.stderr.decode())

    @unittest.skipUnless(os.getuid() == 0, "needs to give up root")
    def test_read_only_output(self):
        """As another user, who owns neither file nor folder."""
        out = self.path("old.txt", "precious")
        os.chmod(self.folder, 0o755)
        probe = subprocess.run(["/bin/sh", "-c", f"test -x {PROGRAM} && test -r {GO}"],
                               check=False, preexec_fn=lambda: os.setuid(65534))
        if probe.returncode != 0:
            self.skipTest("the program is out of reach of other users")
        for target in (out, self.path("new.txt")):
            result = self.expect(FAILED, "plan", GO, "--output", target,
                                 preexec_fn=lambda: os.setuid(65534))
            self.assertIn("Permission denied", result.stderr.decode())
        self.assertEqual(self.read("old.txt"), b"precious")
        self.nothing_left("old.txt")

    def test_closed_pipe_for_every_command(self):
        for arguments in (["plan", GO], ["plan", GO, "--json"], ["budget", GO], ["readings", GO],
                          ["compare", GO, GO], ["models"], ["--help"], ["plan", "--help"]):
            read, write = os.pipe()
            os.close(read)
            result = subprocess.run([PROGRAM, *arguments], stdout=write, env=environment(),
                                    stderr=subprocess.PIPE, timeout=120, check=False)
            os.close(write)
            self.assertEqual(result.returncode, FAILED, arguments)
            self.assertIn("Broken pipe", result.stderr.decode())

    def test_many_runs_write_the_same_file(self):
        out = self.path("plan.json")
        env = environment()
        children = [subprocess.Popen([PROGRAM, "plan", GO, "--json", "--output", out], env=env)
                    for _ in range(6)]
        deadline = time.monotonic() + 60
        while any(c.poll() is None for c in children) and time.monotonic() < deadline:
            if os.path.exists(out):  # whole at every moment
                json.loads(self.read("plan.json"))
        self.assertEqual([c.wait(timeout=60) for c in children], [DONE] * len(children))
        json.loads(self.read("plan.json"))
        self.nothing_left("plan.json")


class Signals(Case):
    def stop(self, number, *arguments, after_s):
        out = self.path("old.txt", "precious")
        with subprocess.Popen([PROGRAM, *arguments, "--output", out], env=environment(),
                              stderr=subprocess.PIPE) as child:
            time.sleep(after_s)
            child.send_signal(number)
            child.communicate(timeout=60)
        return child.returncode

    def test_plan_is_stopped_at_any_moment(self):
        for number in (signal.SIGINT, signal.SIGTERM, signal.SIGHUP):
            for after_s in (0.0, 0.002, 0.005, 0.01, 0.02, 0.04):
                status = self.stop(number, "plan", RISK, after_s=after_s)
                # before it was ready for it, in order, or too late: never a half-written file
                self.assertIn(status, (DONE, NO, FAILED, -number))
                if status not in (DONE, NO):
                    self.assertEqual(self.read("old.txt"), b"precious")
                self.nothing_left("old.txt")

    def test_risk_is_stopped_in_the_middle(self):
        for number in (signal.SIGINT, signal.SIGTERM):
            status = self.stop(number, "risk", RISK, "--samples", "100000", after_s=1.5)
            self.assertIn(status, (NO, FAILED), "what is known by then is a result")
            self.nothing_left("old.txt")


class Gnuplot(Case):
    def draw(self, env):
        svg = self.path("old.svg", "precious")
        started = time.monotonic()
        result = call("plan", GO, "--plot", svg, env=env)
        self.assertEqual(self.read("old.svg"), b"precious")
        self.assertEqual(result.stdout, self.expect(DONE, "plan", GO).stdout)
        self.assertEqual(os.listdir(self.path("scratch")), [])
        self.nothing_left("old.svg", "bin", "scratch")
        return result, time.monotonic() - started

    def test_failing_killed_or_silent(self):
        for script, says in (("echo 'no such terminal' >&2; exit 1\n", "no such terminal"),
                             ("kill -9 $$\n", "signal 9"),
                             ("kill -TERM $$\n", "signal 15"),
                             ("exit 0\n", "drew nothing"),
                             ("exec 2>&-; exit 0\n", "drew nothing"),
                             ("yes complaint | head -c 3000000 >&2; exit 2\n", "complaint")):
            result, _ = self.draw(self.fake_gnuplot(script))
            self.assertIn(says, result.stderr.decode(), script)
            self.assertIn(result.returncode, (DONE, FAILED), script)

    def test_every_command_answers_without_gnuplot(self):
        """The same exit status, too: a picture is an extra."""
        env = self.fake_gnuplot("echo 'no such terminal' >&2; exit 1\n")
        for command in (["plan", GO], ["budget", GO], ["readings", GO], ["compare", GO, GO],
                        ["risk", GO, "--samples", "50"]):
            usual = call(*command)
            result = call(*command, "--plot", self.path("old.svg"), env=env)
            self.assertEqual((result.returncode, result.stdout), (usual.returncode, usual.stdout))
            self.assertIn("no such terminal", result.stderr.decode())
        self.nothing_left("bin", "scratch")

    def test_hanging_is_ended(self):
        result, took_s = self.draw(self.fake_gnuplot("exec sleep 300\n"))
        self.assertIn("was stopped", result.stderr.decode())
        self.assertLess(took_s, 60)

    def test_a_request_to_stop_ends_the_wait_for_gnuplot(self):
        """In time, with status 3, the child gone and no scratch folder left; told, not drawn."""
        env = self.fake_gnuplot(f"echo $$ >{self.path('pid')}; exec sleep 300\n")
        for command in (["plan", GO], ["plan", GO, "--plot-kind", "winch"], ["budget", GO],
                        ["readings", GO], ["compare", GO, GO], ["models", "series-9500"],
                        ["risk", GO, "--samples", "50"]):
            for number in (signal.SIGTERM, signal.SIGINT):
                svg = self.path("old.svg", "precious")
                with subprocess.Popen([PROGRAM, *command, "--plot", svg], env=env,
                                      stdout=subprocess.PIPE, stderr=subprocess.PIPE) as child:
                    deadline = time.monotonic() + 60
                    while not (os.path.exists(self.path("pid")) and self.read("pid").strip()):
                        self.assertLess(time.monotonic(), deadline, command)
                        time.sleep(0.01)
                    started = time.monotonic()
                    child.send_signal(number)
                    _, said = child.communicate(timeout=60)
                self.assertEqual(child.returncode, FAILED, (command, said))
                self.assertLess(time.monotonic() - started, 5, command)
                self.assertIn("stopped on request", said.decode(), command)
                with self.assertRaises(ProcessLookupError):
                    os.kill(int(self.read("pid")), 0)
                self.assertEqual(self.read("old.svg"), b"precious")
                self.assertEqual(os.listdir(self.path("scratch")), [])
                os.unlink(self.path("pid"))
                self.nothing_left("old.svg", "bin", "scratch")

    def test_no_place_for_scratch_files(self):
        env = environment(TMPDIR=self.path("no-such-folder"))
        svg = self.path("old.svg", "precious")
        result = call("plan", GO, "--plot", svg, env=env)
        self.assertIn("no-such-folder", result.stderr.decode())
        self.assertEqual(self.read("old.svg"), b"precious")
        self.assertEqual(result.stdout, self.expect(DONE, "plan", GO).stdout)


class Surroundings(Case):
    def setUp(self):
        super().setUp()
        self.usual = self.expect(DONE, "plan", GO, "--json").stdout

    @unittest.skipUnless(BREAKER, "the breaker cannot be loaded into this build")
    def test_clock_jumps_change_nothing(self):
        env = environment(LD_PRELOAD=BREAKER, BREAK_CLOCK="1")
        self.assertEqual(self.expect(DONE, "plan", GO, "--json", env=env).stdout, self.usual)
        usual = call("risk", RISK, "--samples", "500", "--json")
        jumping = call("risk", RISK, "--samples", "500", "--json", env=env)
        self.assertEqual((jumping.returncode, jumping.stdout), (usual.returncode, usual.stdout))

    def test_empty_environment(self):
        """No HOME, no PATH, no TERM, no LANG: the data are found from where the program lies."""
        result = self.expect(DONE, "plan", GO, "--json",
                             env={"PULLREST_MODELS": os.path.join(SOURCE, "models")})
        self.assertEqual(result.stdout, self.usual)

    def test_locales_with_a_decimal_comma(self):
        for name in ("de_DE.UTF-8", "fr_FR", "no_such_LOCALE", "\x01\xff"):
            env = environment(LC_ALL=name, LANG=name, LC_NUMERIC=name)
            self.assertEqual(self.expect(DONE, "plan", GO, "--json", env=env).stdout, self.usual)

    def test_no_terminal_no_input_no_folder(self):
        gone = self.path("gone")
        os.mkdir(gone)

        def prepare():
            os.setsid()
            os.close(0)
            os.chdir(gone)
            os.rmdir(gone)

        result = self.expect(DONE, "plan", GO, "--json", preexec_fn=prepare)
        self.assertEqual(result.stdout, self.usual)


class Big(Case):
    def test_big_scenario_is_refused_in_little_memory(self):
        path = self.path("big.yaml")
        with open(path, "wb") as f:
            line = b"# " + b"x" * 97 + b"\n"
            for _ in range(100):
                f.write(line * (MIB // 100))
        started = time.monotonic()
        result = self.expect(USAGE, "check", path, preexec_fn=limit(resource.RLIMIT_AS, LID))
        self.assertIn("big.yaml", result.stdout.decode() + result.stderr.decode())
        self.assertLess(time.monotonic() - started, 5)

    def test_endless_input_is_refused(self):
        for path in ("/dev/zero", "/dev/urandom"):
            self.expect(USAGE, "check", path)

    def test_big_log_is_streamed_in_little_memory(self):
        """48 MiB of rows with the address space of a small program; PR_BIG_LOG_MIB for more."""
        mib = int(os.environ.get("PR_BIG_LOG_MIB", "48"))
        with open(self.path("log.csv"), "wb") as f:
            f.write(b"time_s,current_A\n")
            second = 0
            for _ in range(mib):
                block = b"".join(b"%d,%d.25\n" % (second + i, 200 + i % 7)
                                 for i in range(MIB // 12))
                second += MIB // 12
                f.write(block)
        with open(os.path.join(SOURCE, "scenarios", "by-current.yaml"), encoding="utf-8") as f:
            text = f.read()
        self.assertIn("by-current.csv", text)
        scenario = self.path("s.yaml", text.replace("by-current.csv", "log.csv"))
        result = call("check", scenario, preexec_fn=limit(resource.RLIMIT_AS, LID))
        self.assertEqual(result.returncode, DONE, result.stderr.decode())


if __name__ == "__main__":
    unittest.main()
