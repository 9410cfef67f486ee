"""Which packets hold pictures that no other picture depends on, by what the codec's standard says of their headers.

Such a picture need not be decoded to decode all others to the bit. The container's own mark for them (`sdtp` in MP4) is
not asked: it is often missing, and nobody checks it.
"""

from collections.abc import Callable
from dataclasses import dataclass

LENGTH_PREFIXED = 1
"""First byte of a decoder configuration record (ISO/IEC 14496-15, 5.3.3 and 8.3.3): units begin with their length."""

H264_SLICE, H264_ASIDE = 1, (6, 9, 12)
"""Rec. ITU-T H.264, table 7-1: a slice of a picture that is no IDR; supplemental information, delimiter and filler,
which concern only the picture they stand with."""
H265_UNREFERENCED, H265_ASIDE = range(0, 16, 2), (35, 38, 39, 40)
"""Rec. ITU-T H.265, table 7-1, in the same order: pictures of the even types below 16 are never referred to by others
of their own temporal sub-layer (7.4.2.2)."""


@dataclass(frozen=True, slots=True)
class PictureUse:
    """How far a picture may be referred to."""

    unreferenced: bool
    """No picture of its own temporal sub-layer, or of a lower one, refers to it."""
    sublayer: int = 0
    """Its temporal sub-layer; pictures of a higher one may refer to it all the same."""


REFERENCED = PictureUse(False)
ReadUse = Callable[[memoryview], PictureUse]


def make_use_reader(codec: str, configuration: bytes | None) -> ReadUse | None:
    """What reads the use of a picture from its packet; None where this is not known of the codec.

    Parameters
    ----------
    codec : the codec's name.
    configuration : its decoder configuration record.
    """
    if not configuration or configuration[0] != LENGTH_PREFIXED:
        return None
    if codec == "h264" and len(configuration) > 6:
        length = (configuration[4] & 3) + 1
        return lambda packet: _read_h264(packet, length)
    if codec == "hevc" and len(configuration) > 22:
        length = (configuration[21] & 3) + 1
        return lambda packet: _read_h265(packet, length)
    return None


def _read_h264(packet: memoryview, length: int) -> PictureUse:
    found = False
    for unit in _list_units(packet, length):
        kind, reference = unit[0] & 0x1F, unit[0] >> 5 & 3
        if kind == H264_SLICE and reference == 0:  # nal_ref_idc (7.4.1)
            found = True
        elif kind not in H264_ASIDE:
            return REFERENCED
    return PictureUse(found)


def _read_h265(packet: memoryview, length: int) -> PictureUse:
    found, sublayer = False, 0
    for unit in _list_units(packet, length):
        if len(unit) < 2:
            return REFERENCED
        kind, layer, temporal = unit[0] >> 1 & 0x3F, (unit[0] & 1) << 5 | unit[1] >> 3, (unit[1] & 7) - 1
        sublayer = max(sublayer, temporal)
        if kind in H265_UNREFERENCED and layer == 0:
            found = True
        elif kind not in H265_ASIDE:
            return PictureUse(False, sublayer)
    return PictureUse(found, sublayer)


def _list_units(packet: memoryview, length: int) -> list[memoryview]:
    """The NAL units of a packet; none where the lengths do not add up, so that it counts as referred to."""
    units, at = [], 0
    while at + length < len(packet):
        size = int.from_bytes(packet[at : at + length], "big")
        at += length
        if size == 0 or at + size > len(packet):
            return []
        units.append(packet[at : at + size])
        at += size
    return units if at == len(packet) else []
