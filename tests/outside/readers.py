"""Commands of the program, each in a child of one process (readers.c): hundreds of them cost seconds."""
import subprocess


class Readers:
    def __init__(self, program, **more):
        self.process = subprocess.Popen([program], stdin=subprocess.PIPE, stdout=subprocess.PIPE, **more)
        self.slowest = 0

    def call(self, *words):
        line = b"".join(str(word).encode("utf-8", "surrogateescape") + b"\0" for word in words)
        assert b"\0\0" not in line and not line.startswith(b"\0"), "an empty word"
        self.process.stdin.write(line + b"\0")
        self.process.stdin.flush()
        code, cpu, size, said = map(int, self.process.stdout.readline().split())
        self.slowest = max(self.slowest, cpu)
        out, complaint = self.process.stdout.read(size), self.process.stdout.read(said)
        return subprocess.CompletedProcess(words, code, out, complaint)

    def end(self):
        self.process.stdin.close()
        assert self.process.wait() == 0
