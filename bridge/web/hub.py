"""The middle of the board: records in, pictures for each page out, what the teacher wants back."""

from __future__ import annotations

import struct
from collections import deque
from collections.abc import Callable
from itertools import islice

from bridge.base.commands import Begin, Command, Quiet
from bridge.base.handoff import HandOff
from bridge.base.records import Record, decode, encode
from bridge.base.timings import Timings
from bridge.web.board_state import BoardState, Message
from bridge.web.client import Client
from bridge.web.drill import Drill
from bridge.web.guard import Role
from bridge.web.messages import CONTRACT, Ask, Do, DrillOff, DrillOn, Said, Seen, Share, dumps
from bridge.web.setup import BoardSetup
from bridge.web.trail import rounded

#: Before a record stands when its sound came in: nanoseconds of the machine's monotonic clock.
STAMP = struct.Struct("<q")
#: Records folded at once: a burst must not hold up the pictures.
_AT_ONCE = 512
#: Something is heard, if only silence, hundreds of times a second: after this long without, the sound has stopped.
_STALLED_S = 0.5
#: Nor can an exercise be judged when for so long none has come: its beat is no longer known.
_BROKEN_OFF_S = 2.0
#: A page that nothing is new for gets a picture all the same, so that it is known to be there.
_IDLE_S = 0.5
#: Points of the trail in one picture, and of the trail that a new page begins with.
_PICTURE_POINTS = 200
_FIRST_POINTS = 1500
#: Pictures a second for all pages together: with more pages each gets fewer.
_PICTURES_PER_S = 1800.0
#: Of the sound a moment each so many seconds is timed. Not of the pictures: a stall is one late picture, however long.
_TIMED_S = 0.010
_TIMED = 1024
#: The teacher always finds room.
_TEACHERS = 4


class Hub:
    """All clients and the one state. ``clock`` gives monotonic seconds; nothing here waits."""

    def __init__(self, setup: BoardSetup, feed: HandOff, commands: HandOff, clock: Callable[[], float]) -> None:
        self._setup = setup
        self._feed = feed
        self._commands = commands
        self._clock = clock
        self._fed_s = clock()
        self._sounds: deque[float] = deque(maxlen=_TIMED)
        self._sounds_end = 0
        self._body = (-1, "")
        self._sounding: set[Client] = set()
        self._is_seen = False
        self._idle_s = clock()
        self.state = BoardState(setup)
        self.drill = Drill(setup, clock, self._order)
        self.clients: set[Client] = set()

    def room_for(self, role: Role) -> bool:
        """Whether one more page of that role may come."""
        return len(self.clients) < self._setup.settings.most_viewers + (_TEACHERS if role == "teacher" else 0)

    def add(self, role: Role) -> Client:
        """A page has come."""
        client = Client(role, self._clock())
        client.next_point = self.state.trail.end - _FIRST_POINTS
        client.next_sound = self._sounds_end
        hello = {"is": "hello", "contract": CONTRACT, "role": role, "setup": self.state.setup_message()}
        client.owe(dumps(hello))
        if self.state.view:
            client.owe(self._shared())
        for message in self.drill.told():
            client.owe(dumps(message))
        self.clients.add(client)
        return client

    def remove(self, client: Client) -> None:
        """A page is gone; a model that it sounded has ended."""
        self.clients.discard(client)
        self._quiet(client, sounding=False)

    def hear(self) -> bool:
        """Fold in what has come; whether more may be waiting."""
        now_s = self._clock()
        came = 0
        for data in islice(self._feed.drain(), _AT_ONCE):
            came += 1
            self._take(decode(data[STAMP.size :]), STAMP.unpack_from(data)[0] / 1e9)
        if came:
            self._fed_s = now_s
        if now_s - self._fed_s > _BROKEN_OFF_S:
            self._tell_all(*self.drill.end("No sound comes in any more, so that the exercise was broken off."))
        self._tell_marks()
        self.state.mind(stalled=now_s - self._fed_s > _STALLED_S, unseen=self._feed.lost)
        if now_s - self._idle_s >= _IDLE_S:
            self._idle_s = now_s
            self.state.version += not came
        return came == _AT_ONCE

    def wake(self) -> list[Client]:
        """Wake the senders of the pages that may have a picture; those that have not read for too long come back."""
        now_s = self._clock()
        slow = []
        for client in self.clients:
            if client.may_have(self.state.version, now_s):
                client.wake.set()
            elif client.unread_s(now_s) > self._setup.settings.unread_s:
                slow.append(client)
        return slow

    def picture(self, client: Client) -> list[str]:
        """What to send to the page now: what it is owed, then the present moment."""
        now_s = self._clock()
        texts = client.take_owed()
        rate = min(self._setup.settings.frames_per_second, _PICTURES_PER_S / max(len(self.clients), 1))
        version = self.state.version
        number = client.begin_picture(version, now_s, 1.0 / rate, self._new_sounds(client))
        points = self.state.trail.since(client.next_point, _PICTURE_POINTS)
        client.next_point, client.next_sound = self.state.trail.end, self._sounds_end
        if self._body[0] != version:
            self._body = (version, dumps(self.state.now()).removeprefix("{"))
        texts.append(f'{{"is":"now","n":{number},"trail":{dumps(rounded(points))},{self._body[1]}')
        return texts

    def obey(self, client: Client, said: Said) -> bool:
        """What a page has said; False when it may not say that."""
        if isinstance(said, Seen):
            seen = client.seen(said.number, self._clock())
            if seen and not self._is_seen:
                self._is_seen = True
                self._order(Begin())
            return seen
        if client.role != "teacher":
            return False
        match said:
            case Do(Quiet(sounding)):
                self._quiet(client, sounding=sounding)
            case Do(command):
                self._order(command)
            case DrillOn():
                self._tell_all(*self.drill.begin(said, self.state))
            case DrillOff():
                self._tell_all(*self.drill.end())
            case Share(view):
                self.state.view = view
                self.state.version += 1
                self._tell_all({"is": "shared", "view": view})
            case Ask():
                client.owe(dumps({"is": "delays", "page": told(client.delays), "pages": len(self.clients)}))
        return True

    def _take(self, record: Record, came_s: float) -> None:
        """One record, whose sound came in at ``came_s``."""
        if not self._sounds or abs(came_s - self._sounds[-1]) >= _TIMED_S:
            self._sounds.append(came_s)
            self._sounds_end += 1
        self._tell_all(*self.state.take(record), *self.drill.take(record, came_s))

    def _new_sounds(self, client: Client) -> list[float]:
        """When the sound came in that the page has not been given, a moment each 10 ms."""
        missing = min(self._sounds_end - client.next_sound, len(self._sounds))
        return [self._sounds[-back] for back in range(missing, 0, -1)]

    def _tell_marks(self) -> None:
        """What was played, once it is judged; the teacher alone is told of files."""
        marks, trouble = self.drill.judged()
        if marks is not None:
            self._tell_all(marks)
        if trouble:
            for client in self.clients:
                if client.role == "teacher":
                    client.owe(dumps({"is": "saying", "text": trouble}))

    def _tell_all(self, *messages: Message) -> None:
        for message in messages:
            text = dumps(message)
            for client in self.clients:
                client.owe(text)

    def _shared(self) -> str:
        return dumps({"is": "shared", "view": self.state.view})

    def _order(self, command: Command) -> None:
        self._commands.push(encode(command))

    def _quiet(self, client: Client, *, sounding: bool) -> None:
        """The page begins or ends sounding a model; nothing is heard until no page sounds one any more."""
        if not sounding and client not in self._sounding:
            return
        (self._sounding.add if sounding else self._sounding.discard)(client)
        if sounding:
            self._tell_all(*self.drill.end("A tone is sounded, so that the exercise was broken off."))
        if sounding or not self._sounding:
            self.state.paused = sounding
            self.state.version += 1
            self._order(Quiet(sounding))


def told(delays: Timings) -> Message:
    """Delays as they are sent, in milliseconds."""
    return {
        "count": delays.count,
        "late": delays.over,
        **{
            name: round(1000.0 * delays.quantile(part), 2)
            for name, part in (("half", 0.5), ("p95", 0.95), ("p99", 0.99), ("most", 1.0))
        },
    }
