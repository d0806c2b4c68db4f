"""
Programs that take line after line: one `ip` and one `bridge` for each namespace, kept until its site is ready. Starting
one costs more than a hundred lines do, most of all under emulation.
"""

import re
import subprocess

from namespaces import inside

# No program knows this word, so each says of it that the line failed, and that is how far it is.
MARK = "?"
FAILED = re.compile(r"^Command failed -:(\d+)$")


class Talker:
    """One program in one namespace. `-force` has it go on behind a line that failed."""

    def __init__(self, namespace, program):
        with inside(namespace):
            self._process = subprocess.Popen(
                [program, "-force", "-batch", "-"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
            )
        self._lines = 0

    def say(self, text):
        """Has it carry out all lines: `(status, what it said)`; what failed is told by its number in this text."""
        before = self._lines
        self._lines += text.count("\n") + 1
        self._process.stdin.write(f"{text}{MARK}\n")
        self._process.stdin.flush()
        said = []
        for line in self._process.stdout:
            failed = FAILED.match(line)
            if failed and int(failed[1]) == self._lines:
                # Before it came what was said of the mark.
                return int(len(said) > 1), "".join(said[:-1])
            said.append(f"Command failed -:{int(failed[1]) - before}\n" if failed else line)
        raise RuntimeError(f"{self._process.args[0]} ended with {self._process.wait()}: {''.join(said)}")

    def close(self):
        self._process.stdin.close()
        self._process.wait()
        self._process.stdout.close()


class Talkers:
    """The programs of one site, each started when it is first needed."""

    def __init__(self, namespaces):
        self._namespaces = namespaces
        self._talkers = {}

    def say(self, device, program, text):
        """Two texts for one program of one device never come at the same time."""
        if (device, program) not in self._talkers:
            self._talkers[device, program] = Talker(self._namespaces[device], program)
        return self._talkers[device, program].say(text)

    def close(self):
        for talker in self._talkers.values():
            talker.close()
        self._talkers.clear()
