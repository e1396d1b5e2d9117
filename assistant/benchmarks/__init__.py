"""The commands behind the figures that we print: each makes its own material anew, runs what is shipped, and scores it."""
