"""How well and how fast nestlib packs, against published values.

::

    instances   reading an instance             solve     one run           packer   bins, sheets
    checking    is a solution one? (shapely)    pinned    runs side by side, each on its cores
    machine     where it was measured           measured  rows in files     options  of commands

    strips      densities over seeds            angles    listed angles against any
    scaling     density in time by workers      sheets    bins and sheets of several sizes
    kernels     loops of the engine against C   c_loops   the C side
    growth      copies of one instance          midway    a layout as a search meets it
    cold        compilation                     pictures  best layouts as SVG

    shop        a shop's own work               shop_work, shop_parts   the jobs
    shop_boxes  what a shop does without outlines   shop_checking       are layouts sound?

    report      RESULTS.md from all rows        markdown  its tables
    report_speed   its sections about time      curves    density against time
    report_shop    its section about a shop
"""
