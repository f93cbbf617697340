"""The figure of a result, and its artists by name."""


def figure_of(working, *results):
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=working.figure_size, layout="constrained")
    canvas = FigureCanvasAgg(figure)
    move = working.draw(figure)
    for result in results:
        move(result)
        canvas.draw()
    return figure


def by_gid(figure, gid):
    return next(a for a in figure.findobj() if a.get_gid() == gid)
