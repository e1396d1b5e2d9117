"""Reads measuring gauges byte by byte; knows nothing of what is measured with them.

What may be imported from here is listed in `gauges.reading` (the results) and `gauges.formats` (the families and `decode`);
`settling`, `probing`, `ports`, `keyboard` and `registers` are the live side.
"""
