"""The schema of MusicXML 4.0 (W3C Music Notation Community Group, June 2021), as the PyPI package musicxml carries it.

The schemas that it imports for the attributes ``xml:lang``, ``xml:space`` and ``xlink:...`` are not in that package;
two stand-ins hold just these attributes.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Any

import musicxml
from lxml import etree

_HEAD = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace='
_XML = (
    f'{_HEAD}"http://www.w3.org/XML/1998/namespace"><xs:attribute name="lang" type="xs:language"/>'
    '<xs:attribute name="space" type="xs:NCName"/></xs:schema>'
)
_LINKS = "".join(
    f'<xs:attribute name="{name}" type="xs:string"/>' for name in ("href", "type", "role", "title", "show", "actuate")
)
_XLINK = f'{_HEAD}"http://www.w3.org/1999/xlink">{_LINKS}</xs:schema>'


class _StandIns(etree.Resolver):  # type: ignore[misc]
    """Nothing is looked for outside: both imported schemas are ours."""

    def resolve(self, url: str, _public_id: str, context: Any) -> Any:  # noqa: ANN401 -- lxml has no types
        """The stand-in for a schema that is imported."""
        if url.endswith(("xml.xsd", "xlink.xsd")):
            return self.resolve_string(_XLINK if url.endswith("xlink.xsd") else _XML, context)
        return None


@cache
def _schema() -> Any:  # noqa: ANN401 -- as above
    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(_StandIns())
    path = Path(musicxml.__file__).parent / "generate_classes" / "musicxml_4_0.xsd"
    return etree.XMLSchema(etree.parse(path, parser))


def faults(data: bytes) -> list[str]:
    """What the schema says against a score, one line a fault; none when it is valid."""
    schema = _schema()
    schema.validate(etree.fromstring(data))
    return [f"{entry.line}: {entry.message}" for entry in schema.error_log]
