"""What to order: formats, layouts as columns, integer programs over them, chance and weeks.

::

    formats     kinds of sheet, to order or at hand     demand      what may be wanted, by chance
    columns     layouts as the programs see them        simulating  what that costs, and how often
    lengths     sheets cut to length                                something is short
    choosing    what to order at least cost             weekly      what to order and cut when
    questions   a single format, few, one missing           beginning   plans to begin with
    proving     what no order can cost less than            choice      what they are answered with
"""
