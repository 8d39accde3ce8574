# One cook on a small device, for MicroPython: copy this one file onto it.
#
#     import cookstop
#
#     service = cookstop.Service("192.168.1.20", 8080, key="...")
#     cook = cookstop.Cook(service, switch_off=relay.off)
#     cookstop.run(cook, sense)
#
# `sense(cook)` is called about twenty times a second and puts in what was read since: `cook.pop()`,
# `cook.humidity(45.2, 23.1)`, `cook.power(0)`. `run` comes back when the cook has stopped, after `switch_off()`.
#
# The service may go away at any time: readings are kept and sent later, questions are tried again, and the heating ends
# at the last deadline that the service gave, or after UNANSWERED_MS where it never gave one. No call in here waits beyond
# that deadline. A device that hangs altogether is for its watchdog: see the page beside this file.
#
# Times are whole milliseconds since the cook was started. Needs only the standard modules gc, io, json, socket and time.
#
# Comments stand in the place of docstrings, which would take memory on the device.

import gc
import io
import json
import socket
import time

PATH = "/v1/decisions"
DECISIONS = ("continue", "warn", "stop")
LATEST_MS = 7200000
WAIT_MS = 4000
UNANSWERED_MS = 30000
FIRST_RETRY_MS = 250
MOST_RETRY_MS = 4000
SOONEST_MS = 100
LATEST_AGAIN_MS = 10000
CHUNK = 240
MOST_CHUNKS_OF_A_KIND = 8
PACKET = 1400
PIECE = 256


# The service will not take this post, however often it is sent: (status, what it said).
class Refused(Exception):
    pass


# The service is there, but did not answer: (status, ms to wait that it asked for).
class Later(Exception):
    pass


# Where the service is. A name is looked up here and now, before anything heats; a connection is made for each post.
#
# `key` is sent as a bearer key. `wrap` makes a secure socket of a connected one; without it keys travel in the clear.
# Nothing is ever held in one large piece, of which a small heap soon has none.
class Service:
    def __init__(self, host, port=8080, key=None, wrap=None):
        self.address = socket.getaddrinfo(host, port, 0, socket.SOCK_STREAM)[0][-1]
        self.wrap = wrap
        self.packet = bytearray(PACKET)
        # HTTP/1.0: the answer comes whole and ends where the connection does.
        self.head = f"POST {PATH} HTTP/1.0\r\nHost: {host}\r\nContent-Type: application/json\r\n"
        if key is not None:
            self.head += f"Authorization: Bearer {key}\r\n"

    # The decision on a body given in parts. Raises OSError or ValueError for none, Refused, or Later.
    def post(self, parts, timeout_ms):
        # Now, while little is in use.
        gc.collect()
        until = time.ticks_add(time.ticks_ms(), timeout_ms)
        bare = socket.socket()
        try:
            bare.settimeout(timeout_ms / 1000)
            bare.connect(self.address)
            link = bare if self.wrap is None else self.wrap(bare)
            self._send(link, parts)
            return _answer(_Reader(bare, link, until))
        finally:
            bare.close()

    # The request in packets of a good size: small pieces would wait for each other on their way.
    def _send(self, link, parts):
        length = sum([len(part) for part in parts])
        parts.insert(0, f"{self.head}Content-Length: {length}\r\n\r\n".encode())
        used = 0
        for part in parts:
            view = memoryview(part)
            while len(view):
                count = min(len(view), PACKET - used)
                self.packet[used : used + count] = view[:count]
                used += count
                view = view[count:]
                if used == PACKET:
                    link.write(self.packet)
                    used = 0
        link.write(memoryview(self.packet)[:used])


# What comes over a connection, byte by byte, until a moment. Reading raises OSError when that is over.
class _Reader(io.IOBase):
    def __init__(self, bare, link, until):
        self.bare = bare
        # A secure socket can only be read like a file, which waits until there is as much as was asked for.
        self.read = (lambda: bare.recv(PIECE)) if link is bare else (lambda: link.read(1))
        self.until = until
        self.piece = b""
        self.at = 0

    # The next byte, None at the end.
    def byte(self):
        if self.at == len(self.piece):
            left_ms = time.ticks_diff(self.until, time.ticks_ms())
            if left_ms <= 0:
                raise OSError("no answer in time")
            self.bare.settimeout(left_ms / 1000)
            self.piece = self.read()
            self.at = 0
            if not self.piece:
                return None
        self.at += 1
        return self.piece[self.at - 1]

    # As a stream is read by others: one byte at a time.
    def readinto(self, room):
        byte = self.byte()
        if byte is None:
            return 0
        room[0] = byte
        return 1

    # The next line, without its end and at most 200 bytes of it.
    def line(self):
        line = bytearray()
        while True:
            byte = self.byte()
            if byte is None:
                raise ValueError("it ends before the body")
            if byte == 10:
                return bytes(line)
            if byte != 13 and len(line) < 200:
                line.append(byte)


def _answer(reader):
    words = reader.line().split(None, 2)
    if len(words) < 2 or not words[0].startswith(b"HTTP/"):
        raise ValueError("this is no HTTP")
    status = int(words[1])
    asked_ms = 0
    while True:
        line = reader.line()
        if not line:
            break
        if line.lower().startswith(b"retry-after:") and line[12:].strip().isdigit():
            asked_ms = int(line[12:]) * 1000
    if status == 200:
        return json.load(reader)
    if status in (408, 425, 429) or not 400 <= status < 500:
        raise Later(status, asked_ms)
    raise Refused(status, reader.piece[reader.at :])


# One cook. It starts, at 0, when this is made; whoever makes it then switches the heating on.
#
# `switch_off()` ends the heating and may be called more than once. `arm(ms)`, where given, is told at every new
# deadline how far away it is, for a timer in hardware that ends the heating as well.
class Cook:
    def __init__(self, service, switch_off, program="popcorn", setup=None, arm=None, now_ms=time.ticks_ms):
        self.service = service
        self.switch_off = switch_off
        self.arm = arm
        self.now_ms = now_ms
        self.start = now_ms()
        # Readings by kind, as they will be sent, each with a comma after it, in chunks: as text they are smallest.
        self.kept = {}
        self.state = None
        self.asked_ms = 0
        self.due_ms = 0
        self.failures = 0
        self.level = 1.0
        self.decision = "continue"
        self.stopped_by = None
        self.rule = None
        head = {"program": program}
        if setup is not None:
            head["setup"] = setup
        self.head = json.dumps(head)[1:-1].encode()
        self._allow_until(UNANSWERED_MS)

    # Milliseconds since the start.
    def ms(self):
        return time.ticks_diff(self.now_ms(), self.start)

    # A pop was heard, now or at that time.
    def pop(self, t_ms=None):
        self._keep("pops", t_ms, "")

    # Relative humidity (%) in the exhaust, and the temperature of the air there (degrees Celsius).
    def humidity(self, rh_pct, air_c=None, t_ms=None):
        air = "" if air_c is None else f',"air_c":{air_c:.2f}'
        rh_pct = min(max(rh_pct, 0), 100)
        self._keep("humidity", t_ms, f',"rh_pct":{rh_pct:.2f}{air}')

    # The magnetron runs at this share of full power from here on, 0 for off.
    def power(self, level, t_ms=None):
        self._keep("power", t_ms, f',"level":{level:.3f}')
        if level > 0:
            self.level = level

    # Somebody has deliberately started the heating again after a stop.
    def restart(self):
        t_ms = self.ms()
        self._keep("restarts", t_ms, "")
        self.power(self.level, t_ms)
        self.decision, self.stopped_by, self.due_ms = "continue", None, 0
        self._allow_until(t_ms + UNANSWERED_MS)

    # Whether the heating may go on; the deadline is kept here.
    def goes_on(self):
        if self.stopped_by is None and self.ms() >= self.stop_by_ms:
            self.stop("deadline")
        return self.stopped_by is None

    # End the heating, and note who did.
    def stop(self, by="device"):
        self.switch_off()
        if self.stopped_by is None:
            self.decision, self.stopped_by = "stop", by
            self.power(0)

    # Ask if it is time, stop if it is time; the decision that stands. Raises Refused, and then ends the heating.
    def poll(self):
        if (self.goes_on() or self.unsent()) and self.ms() >= self.due_ms:
            try:
                self._ask()
            except Refused:
                self.stop()
                raise
            self.goes_on()
        return self.decision

    # How many bytes of readings the service has yet to get.
    def unsent(self):
        return sum([len(chunk) for chunks in self.kept.values() for chunk in chunks])

    def _keep(self, kind, t_ms, rest):
        t_s = _seconds(self.ms() if t_ms is None else t_ms)
        chunks = self.kept.setdefault(kind, [])
        if not chunks or len(chunks[-1]) >= CHUNK:
            chunks.append(bytearray())
        chunks[-1].extend((('{"t":' + t_s + rest + "}" if rest else t_s) + ",").encode())

    def _allow_until(self, stop_by_ms):
        self.stop_by_ms = stop_by_ms
        if self.arm is not None:
            self.arm(max(stop_by_ms - self.ms(), 1))

    def _ask(self):
        batch = {kind: self.kept[kind][:MOST_CHUNKS_OF_A_KIND] for kind in self.kept}
        # While more is to follow, ask about the moment of the last answer, so that nothing is decided on a part.
        is_all = all(len(batch[kind]) == len(self.kept[kind]) for kind in batch)
        as_of_ms = max(self.ms(), self.asked_ms) if is_all else self.asked_ms
        wait_ms = WAIT_MS if self.stopped_by else min(WAIT_MS, max(self.stop_by_ms - self.ms(), 50))
        try:
            answer = self.service.post(self._body(batch, as_of_ms), wait_ms)
            said, state = answer["decision"], answer["state"]
            stop_by_ms, again_ms = int(answer["stop_by_s"] * 1000), int(answer["post_again_in_s"] * 1000)
            rule = answer["reasons"][0]["rule"]
            # No cook lasts longer than that: a deadline beyond it would be none.
            if said not in DECISIONS or not isinstance(state, str) or not 0 <= stop_by_ms <= LATEST_MS:
                raise ValueError("no decision")
        except Later as error:
            self._try_again(error.args[1])
            return
        except (OSError, ValueError, KeyError, TypeError, AttributeError, IndexError):
            # Nobody, or something else, answered.
            self._try_again(0)
            return
        for kind in batch:
            self.kept[kind] = self.kept[kind][len(batch[kind]) :]
        self.state, self.asked_ms, self.failures = state, as_of_ms, 0
        if is_all:
            self.due_ms = self.ms() + min(max(again_ms, SOONEST_MS), LATEST_AGAIN_MS)
            self._take(said, stop_by_ms, rule)

    def _take(self, said, stop_by_ms, rule):
        self.rule = rule
        if self.stopped_by is not None:
            return
        if said == "stop":
            self.stop("service")
        else:
            self.decision = said
            self._allow_until(stop_by_ms)

    def _try_again(self, asked_ms):
        self.failures += 1
        longest_ms = min(FIRST_RETRY_MS << min(self.failures - 1, 10), MOST_RETRY_MS)
        # Half of the wait by the chance of the clock, so that devices do not all come back together.
        wait_ms = longest_ms // 2 + time.ticks_us() % (longest_ms // 2)
        self.due_ms = self.ms() + max(wait_ms, asked_ms)

    # The body in parts, so that what is long is not copied.
    def _body(self, batch, as_of_ms):
        parts = [b"{" + self.head] if self.state is None else [b'{"state":"', self.state, b'"']
        parts.append((',"as_of":' + _seconds(as_of_ms) + ',"readings":{').encode())
        between = '"'
        for kind in batch:
            if batch[kind]:
                parts.append((between + kind + '":[').encode())
                parts.extend(batch[kind])
                # Without the comma after the last of them.
                parts[-1] = memoryview(parts[-1])[:-1]
                between = '],"'
        parts.append(b"}}" if between == '"' else b"]}}")
        return parts


# Cook until it stops, then go on for a while to hand in what is left. Ends the heating however it is left.
def run(cook, sense, pause_ms=50, deliver_ms=10000):
    try:
        while cook.goes_on():
            sense(cook)
            cook.poll()
            time.sleep_ms(pause_ms)
        until_ms = cook.ms() + deliver_ms
        while cook.unsent() and cook.ms() < until_ms:
            cook.poll()
            time.sleep_ms(pause_ms)
    finally:
        cook.stop()


def _seconds(ms):
    return f"{ms // 1000}.{ms % 1000:03d}"
