"""Names and texts of a drawing as people read them, whatever bytes they were written in."""

import codecs
import re
from dataclasses import dataclass

_SURROGATES = re.compile("[\ud800-\udfff]+")
_CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f]+")
_ESCAPED = re.compile(r"\\[Uu]\+([0-9A-Fa-f]{4})")
LONGEST = 2000  # signs of a text that are kept


@dataclass(frozen=True, slots=True)
class Words:
    """How the names and texts of one file are read.

    Attributes:
        codec: what the bytes are, as Python calls it.
        override: the codec to tell the reader, None where it finds the right one itself.
        note: what is wrong with the file's own statement, "" for nothing.
    """

    codec: str
    override: str | None = None
    note: str = ""

    @classmethod
    def of(cls, data: bytes, modern: bool, page: str) -> "Words":
        """The codec of a file: UTF-8 where its bytes are that, else the code page of its header.

        Args:
            data: the whole file.
            modern: True for a version whose texts are UTF-8 by the DXF reference.
            page: $DWGCODEPAGE.
        """
        if data.removeprefix(codecs.BOM_UTF8).isascii():
            return cls("utf-8")
        try:
            data.decode("utf-8")
        except UnicodeDecodeError:
            note = "texts are not in UTF-8, as this version demands" if modern else ""
            return cls(_codec(page), None, note)
        if modern:
            return cls("utf-8")
        return cls("utf-8", "utf-8", f"texts are in UTF-8, not in the code page of the header ({page or 'none'})")

    def decoded(self, raw: bytes) -> str:
        """Bytes of the file as text."""
        return raw.decode(self.codec, "replace")

    def plain(self, text: str) -> str:
        r"""A name or text as the reader gave it, made fit to print: escapes and stray bytes decoded, no control signs.

        >>> Words("cp1252").plain("S\\U+00FCd \udcfc")
        'Süd ü'
        """
        if text.isascii() and "\\" not in text and text.isprintable():
            return text[:LONGEST]
        text = _SURROGATES.sub(self._stray, text)
        text = _ESCAPED.sub(lambda found: chr(int(found[1], 16)), text)
        return _CONTROLS.sub(" ", _SURROGATES.sub("\ufffd", text))[:LONGEST]

    def _stray(self, found: re.Match[str]) -> str:
        raw = found[0].encode("utf-8", "surrogateescape") if _kept(found[0]) else b""
        return raw.decode("cp1252" if self.codec == "utf-8" else self.codec, "replace") or "\ufffd"


def _kept(text: str) -> bool:
    """True for stray bytes as Python keeps them."""
    return all("\udc80" <= sign <= "\udcff" for sign in text)


def _codec(page: str) -> str:
    from ezdxf.tools.codepage import toencoding

    return str(toencoding(page)) if page else "cp1252"
