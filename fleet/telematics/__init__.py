"""Telematics by ISO/TS 15143-3: sources are asked for snapshots of the fleet, whose hours become readings.

`poll` reads one source from beginning to end: `pagination` goes from page to page, `fetch` gets each (within
`limits`, and only from `allowed_addresses`), `detect_format` tells XML from JSON, `xml_snapshot` and
`json_snapshot` read it, and `apply_snapshot` applies the whole at once. `sources` and `linking` are what
people do; `credentials` keeps logins.
"""
