"""The screen: one page, served from this computer, that shows the job and takes everything that can be said.

- `view` and its parts are pure: a state gives the page's data, in whole numbers and decimal strings, never in floats.
- `hub` hands the newest view to every page that looks; `server` speaks HTTP; `page` makes the one file that a browser gets.
- A page acts only on what it shows: each of its inputs names the batch it was looking at, and one that comes late is refused.
"""
