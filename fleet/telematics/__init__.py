"""Telematics by ISO/TS 15143-3: sources are asked for snapshots of the fleet, whose hours become readings.

`round` reads one source from beginning to end: `walk` goes from page to page, `fetch` gets each (within
`limits` and only from a `network` that may be asked), `document` tells XML from JSON, `xml_form` and
`json_form` read it, and `intake` applies the whole snapshot at once. `sources` and `ties` are what people do;
`vault` keeps logins.
"""
