"""What a clinic's server must withstand, tried against one that is started here and ended again.

`server` brings a server up on a free port of this computer, with a home of its own, and ends it;
`wire` speaks HTTP by hand, slowly if asked; each of the other modules is one attack.
"""
