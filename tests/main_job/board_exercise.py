"""Messages of the board for an invented exercise, for the stand-in server: begun, over, and its marks."""

from __future__ import annotations

from main_job.board_double import Message

BEGUN: Message = {
    "is": "drill",
    "on": True,
    "exercise": "blue",
    "title": "Blue",
    "how": "Hold the third in the blue zone.",
    "tempo": 120,
    "player": "Ada",
    "counted": 4,
    "beats": 8,
    "in": 0.5,
}
OVER: Message = {"is": "drill", "on": False, "why": ""}
MARKS: Message = {
    "is": "marks",
    "exercise": "blue",
    "title": "Blue",
    "tempo": 120,
    "player": "Ada",
    "success": True,
    "notes": [
        "began 46 cents under straight, blue; steady within 12 cents; one hole; on the beat.",
        (
            "began 32 cents under straight; settled after 0.31 s: 44 cents under straight, blue; steady within "
            "11 cents; one hole; 24 ms behind the beat."
        ),
    ],
    "off": "3 cents off where it should lie, on average. That is 20 cents nearer than the time before: well done.",
    "next": "Next: Hold it stiller, with an even breath: it strayed by 12 cents to either side.",
    "beat": "It comes back 63 ms late; that is taken off what is said of your beat.",
    "progress": [40.0, 23.0, 3.0],
    "so_far": "3 times: 40 cents off the first time, 3 the last; the nearest 3.",
}
