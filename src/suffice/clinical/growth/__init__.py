"""Growth against published standards: WHO 2006 and 2009, INTERGROWTH-21st 2014 to 2016.

```
tables of the content store -> standard.py (what a standard is)
   -> who, velocity, increments, intergrowth   arrays in, arrays out; nan where a row has no answer
   -> choice                                   which standard applies to an infant, and why
   -> assess, assess_gain, assess_fall         one infant: figures with their working
   -> centile_fall, bands                      thresholds of the fall; lines for a chart
```

Pure: every function receives its standard. In arrays `is_male` is 1 for a boy and 0 for a girl (bool
or number); any other value means that the sex is not known and gives nan, since every one of these
standards is by sex. In the functions for one infant the same refuses with GROWTH-001.
"""
