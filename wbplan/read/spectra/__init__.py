"""Spectra from the files that instruments and people write.

`files.FORMATS` is the registry: a workbook, IES TM-27 XML, JSON, CGATS text, each one module that
says how it is recognised and how it is read. What none recognises is a text table, that lies on its
side (`wide`) or stands (`upright`). What the values are is decided in one place (`quantities`, with
`units`), and so is negative noise (`noise`). What can be read in two ways is refused.
Light over time beside a spectrum is `waveforms`.
"""
