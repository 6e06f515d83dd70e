"""A short tone for the voltmeter that can be heard."""

from __future__ import annotations

import io
import math
import wave
from array import array
from functools import lru_cache

SAMPLE_RATE = 11025
"""[Hz]"""
DURATION = 0.35
"""[s]"""
FADE = 0.02
"""Rise and fall, without which a tone begins and ends with a crack. [s]"""
LEVEL = 0.15
"""Share of full loudness. [-] Low, since it starts switched on."""


@lru_cache(maxsize=64)
def tone(pitch: float) -> bytes:
    """Return a tone as the bytes of a WAV file.

    Parameters
    ----------
    pitch : [Hz]
    """
    count = int(SAMPLE_RATE * DURATION)
    edge = SAMPLE_RATE * FADE
    samples = array(
        "h",
        (
            int(
                32767 * LEVEL * min(1.0, i / edge, (count - i) / edge)
                * math.sin(2.0 * math.pi * pitch * i / SAMPLE_RATE)
            )
            for i in range(count)
        ),
    )  # fmt: skip
    file = io.BytesIO()
    with wave.open(file, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(SAMPLE_RATE)
        sound.writeframes(samples.tobytes())
    return file.getvalue()
