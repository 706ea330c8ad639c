"""Settings of the board."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict, Field


class WebSettings(BaseModel):
    """Where the board is found, how many may look at it and how it treats them."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    port: int = Field(8350, ge=1024, le=65535, description="port of the board's page")
    lan_address: str = Field(
        "auto", min_length=1, description="this machine's address that --lan opens: auto, or one such as 192.168.1.5"
    )
    wait_s: float = Field(
        60.0, ge=0.0, le=3600.0, description="a recording waits so long for the first page, s; 0: it does not"
    )
    most_viewers: int = Field(64, ge=1, le=1000, description="how many pages may be open at once")
    frames_per_second: float = Field(60.0, ge=5.0, le=60.0, description="most pictures a second for each page")
    unread_s: float = Field(
        5.0, ge=1.0, le=60.0, description="a page that has read nothing for so long is sent away, s"
    )
    shaky_cents: float = Field(
        20.0, ge=2.0, le=200.0, description="a pitch that strays farther from its way within 150 ms is shaky, cents"
    )
