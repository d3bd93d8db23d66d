"""Cuts the seeds in corpus/ out of the stored runs and descriptions in sample-runs/ and out of captured/.

captured/ holds the first kilobytes that `virtual-box --text` and `virtual-receiver` with some of their faults said.

Run it from any folder; it writes corpus/ anew, but for what was found (`found-`). The seeds are kept in the repository,
so it is needed only when stored runs or bodies change.
"""

import struct
from pathlib import Path

HERE = Path(__file__).resolve().parent
CORPUS = HERE / "corpus"
CAPTURED = HERE / "captured"
RUNS = HERE.parent.parent / "sample-runs" / "runs"
PLOWS = HERE.parent.parent / "sample-runs" / "plows"
MAGIC = b"hitchwright-wire 1\n"


def records(wire):
    """(kind, host time in us, payload) of each record of a wire file, and where it ends."""
    at = len(MAGIC)
    while at < len(wire):
        length, kind, host_us = struct.unpack_from("<IBQ", wire, at)
        end = at + 13 + length + 4
        yield kind, host_us, wire[at + 13 : end - 4], end
        at = end


def contents(stream):
    """Contents of the frames of a stream: COBS undone, CRC taken off."""
    for chunk in stream.split(b"\0"):
        body, at = bytearray(), 0
        while at < len(chunk):
            code = chunk[at]
            body += chunk[at + 1 : at + code]
            at += code
            if code < 255 and at < len(chunk):
                body.append(0)
        if len(body) > 4:
            yield bytes(body[:-4])


def seed(target, name, data):
    folder = CORPUS / target
    folder.mkdir(parents=True, exist_ok=True)
    (folder / name).write_bytes(data)


def script(wire, most):
    """The records of a wire file as steps {what, delay, length, bytes} of bodies/script.rs, as bodies/records.rs has them."""
    steps, before = bytearray(), 0
    of_kind = {2: 4, 3: 5, 4: 6, 6: 8, 7: 9, 8: 10, 9: 11}
    for kind, host_us, payload, _ in records(wire):
        delay = max(host_us - before, 1).bit_length() - 1
        before = host_us
        if kind == 1:
            for content in contents(payload):
                steps += bytes([0, delay, len(content)]) + content
                delay = 0
        elif kind in of_kind:
            steps += bytes([of_kind[kind], delay, min(len(payload), 40)]) + payload[:40]
        if len(steps) > most:
            break
    return bytes(steps)


def known_script(wire):
    """The same of a run that begins with a box that was running: its hello is known, and rows come at once."""
    stream = b"".join(payload for kind, _, payload, _ in records(wire) if kind == 1)
    hello, frames = next(c for c in contents(stream) if c[0] == 1), list(contents(stream))[6:40]
    frames = [frame for frame in frames if frame[0] != 1]
    steps = bytes([4, 0, 4]) + b"port" + bytes([13, 10, len(hello)]) + hello + bytes([9, 10, 0])
    return steps + b"".join(bytes([0, 13, len(frame)]) + frame for frame in frames)


def bodies(stream):
    """What stands between `$` and `*` in each sentence of a stream."""
    for line in stream.split(b"\n"):
        if line.startswith(b"$") and b"*" in line:
            yield line[1:].split(b"*")[0]


def receiver_script(stream):
    """Sentences as steps of bodies/script.rs, as bodies/nmea.rs has them: port opened, one epoch, run started, more."""
    steps = bytearray([6, 0, 0])
    for number, sentence in enumerate(bodies(stream)):
        if number == 4:
            steps += bytes([9, 10, 0])
        steps += bytes([0, 16, len(sentence)]) + sentence
    return bytes(steps)


def text_script(stream):
    """Sentences as steps of bodies/script.rs, as bodies/text_records.rs has them, a row each 10 ms."""
    steps = bytearray()
    for sentence in bodies(stream):
        # A row of three channels becomes one of the first.
        fields = sentence.split(b",")
        if fields[0] == b"PHTWR" and len(fields) >= 4:
            sentence = b",".join(fields[:4])
        steps += bytes([0, 13, len(sentence)]) + sentence
    return bytes(steps)


def requests():
    """(name, head, body) of what is asked of the server at the seat."""
    for path in ["/", "/live", "/units", "/status", "/metrics", "/seat.js", "/?token=0", "/runs/a%2fb?c=d"]:
        yield "".join(c for c in path if c.isalpha()) or "page", f"GET {path} HTTP/1.1", ""
    post = "POST /wish HTTP/1.1\r\ncontent-type: application/json\r\norigin: http://127.0.0.1:8377"
    for wish in [
        '{"wish":"mark"}',
        '{"wish":"stop"}',
        '{"wish":"start","setting":"flat","share":"worn","field":"by the brook","note":"\\u001b[2J"}',
        '{"wish":"choose","share":"sharp"}',
    ]:
        yield "wish", post, wish
    yield "elsewhere", post.replace("127.0.0.1", "evil.test"), '{"wish":"stop"}'
    yield "cookie", "GET /status HTTP/1.1\r\ncookie: a=b; hitchwright=00; c", ""


def logged(run):
    """What other loggers might write of a run, as bodies/import.rs has it: how it is to be read, and the file."""
    rows = [line.split(",") for line in (run / "plow.csv").read_text().splitlines()[1:]]
    few = [[float(cell) for cell in row] for row in rows[::25]]

    def lines(numbers, end="\n", sign=",", comma="."):
        return "".join(sign.join(f"{n:.3f}".replace(".", comma) for n in row) + end for row in numbers)

    plain = [(t, f, d) for t, f, _, d in few]
    yield "plain", b"\0t,f,d\n" + lines(plain).encode()
    # Two passes, a headland between.
    again = [(t + 80, f, d) for t, f, d in plain]
    yield "two-passes", b"\0t,f,d\n" + lines(plain + again).encode()
    european = [(1000 * t, d, f / 1000, 1) for t, f, d in plain[:40]]
    yield "european", b"\x1b\xef\xbb\xbft;d;f;no\r\n" + lines(european, "\r\n", ";", ",").encode()
    yield "no-times", b"\4f,d\n" + lines([(f, d) for _, f, d in plain[:40]]).encode()
    yield "gaps", b"\0t,f,d\n0,1,2\n1,,2\n2,NaN,2\n\n3,1,2\n"
    yield "quoted", b'\0"t","f","d"\n"0","1","2"\n"1","1\n","2"\n'
    yield "carriage-returns", b"\0t,f,d\r0,1,2\r1,1,x\r"
    yield "huge", b"\x18t,f,d\n0,1e305,2\n1e300,1e306,2\n"
    yield "times-of-day", b"\x20t,f,d\n23:59:58,1,2\n" + b"".join(b"%s,1,2\n" % t for t in [b"23:59:59"] * 2 + [b"0:00:00"] * 2)
    yield "skipped-units", b"\xc0made by a logger\nt,f,d\ns,(kN),[in]\n0,1,2\n1,1,x\n"
    own = [(t, f, d, 1850 - 0.012 * f) for t, f, d in plain[:40]]
    yield "own", b"\2t,f,d,o\n" + lines(own).encode()
    yield "own-gaps", b"\2t,f,d,o\n0,1,2,\n1,1,2,3e-7\n2,1,2,nan\n3,1,2,-1e300\n"
    yield "own-units", b"\x82t,f,d,o\ns,N,mm,1/min\n0,1,2,1500\n1,1,2,1510\n"
    yield "own-no-unit", b"\x82t,f,d,o\ns,N,mm,\n0,1,2,1500\n1,1,2,1510\n"
    yield "own-words", b"\2t,f,d,o\n0,1,2,fast\n"
    yield "backwards", b"\0t,f,d\n1,1,2\n0,1,2\n"


def with_own(run_toml, table):
    """A run's description and table as if its user had named the channel of the tail's spring: a column of his own."""
    described = run_toml.replace(b'measures = "tail"', b'measures = "other"')
    described = described.replace(b'"other"\ncount', b'"other"\nname = "spring"\nunit = "mm"\ncount')
    cells = [line.split(b",") for line in table.splitlines()[1:]]
    rows = [b",".join([t_s, pull, depth, b"%.12g" % float(tail)]) for t_s, pull, tail, depth in cells]
    return described, b"\n".join([b"t_s,pull_n,depth_mm,own_spring", *rows, b""])


def main():
    for old in CORPUS.glob("*/*"):
        if not old.name.startswith("found-"):
            old.unlink()
    for run in sorted(path for path in RUNS.iterdir() if path.is_dir()):
        wire = (run / "plow.wire").read_bytes()
        stream = b"".join(payload for kind, _, payload, _ in records(wire) if kind == 1)
        seed("frames", f"{run.name}-stream", b"\x0c" + stream[:3000])
        seed("frames", f"{run.name}-contents", b"\x0d" + b"\xff".join(list(contents(stream))[:12]))
        seed("records", run.name, script(wire, 3000))
    seed("records", "known", known_script((RUNS / "balanced" / "plow.wire").read_bytes()))
    for capture in sorted(CAPTURED.glob("text-*")):
        stream = capture.read_bytes()
        seed("text", f"{capture.stem}-stream", b"\x0c" + stream)
        seed("text", f"{capture.stem}-bodies", b"\x0d" + b"\n".join(bodies(stream)))
        seed("text_records", capture.stem, text_script(stream))
    for capture in sorted(CAPTURED.glob("receiver-*")):
        stream = capture.read_bytes()
        seed("nmea", f"{capture.stem}-script", receiver_script(stream))
        pieces = (stream[at : at + 200] for at in range(0, len(stream), 200))
        raw = b"".join(bytes([5, 17, len(piece)]) + piece for piece in pieces)
        seed("nmea", f"{capture.stem}-stream", bytes([6, 0, 0, 9, 0, 0]) + raw)
    for plow in sorted(PLOWS.glob("*.toml")):
        seed("plow_toml", plow.stem, plow.read_bytes())
    described = (PLOWS / "two-bottom.toml").read_bytes()
    points = b'calibration = { date = "2026-03-01", points = [[120, "0 1/min"], [20120, "1000 1/min"]] }'
    rpm = b'\n[[sensors]]\nchannel = "rpm"\nmeasures = "other"\nname = "engine speed"\nunit = "1/min"\n'
    seed("plow_toml", "own", described + rpm + points + b"\n")
    for number, (name, head, body) in enumerate(requests()):
        lines = "\r\n".join([head, "host: 127.0.0.1:8377", f"content-length: {len(body)}", "", body])
        seed("requests", f"{number:02}-{name}", b"\0" + lines.encode())
    for path in ["/", "/live", "/status", "/?token=00112233445566778899aabbccddeeff"]:
        name = "".join(c for c in path if c.isalpha())[:10]
        seed("requests", f"outside-{name}", f"\1GET {path} HTTP/1.1\r\nhost: 192.168.7.1:8377\r\n\r\n".encode())
    # A link of before, opened in a browser.
    asked = "GET /?token=00 HTTP/1.1\r\nhost: 192.168.7.1:8377\r\naccept: text/html,application/xml;q=0.9,*/*;q=0.8"
    seed("requests", "outside-browser", f"\1{asked}\r\n\r\n".encode())
    for name, data in logged(RUNS / "balanced"):
        seed("import", name, data)
    # One run, cut to a few seconds, is what the other files of a damaged run are.
    run = RUNS / "too-flat"
    wire = (run / "plow.wire").read_bytes()
    end = max(end for *_, end in records(wire) if end < 9000)
    rows = (run / "plow.csv").read_bytes().splitlines(keepends=True)
    stored = {
        "run.toml": (run / "run.toml").read_bytes(),
        "plow.csv": b"".join(rows[:700]),
        "events.csv": (run / "events.csv").read_bytes(),
        "plow.wire": wire[:end],
    }
    own = dict(stored)
    own["run.toml"], own["plow.csv"] = with_own(stored["run.toml"], stored["plow.csv"])
    for of_run, form, prefix in [(stored, 0, ""), (own, 8, "own-")]:
        for number, (name, data) in enumerate(of_run.items()):
            if data is not stored[name] or not prefix:
                seed("stored", prefix + name, data)
            seed("run_folder", prefix + name, bytes([form + number]) + data[:9000])
            seed("repair", prefix + name, bytes([form + number]) + data[:9000])
    lines = own["plow.csv"][:9000].splitlines()[:-1]
    gaps = [line.rpartition(b",")[0] + b"," if number % 3 == 2 else line for number, line in enumerate(lines)]
    seed("run_folder", "own-gaps", b"\x09" + b"\n".join([*gaps, b""]))
    seed("repair", "script", bytes([7]) + script(wire, 3000))
    seed("repair", "known", bytes([7]) + known_script(wire))
    seed("run_toml", "too-flat", stored["run.toml"])
    seed("run_toml", "own", own["run.toml"])


main()
