"""What ``streamlit run app.py`` serves: to the server, what stands before the page; to a visitor, the page."""

if __name__ != "__main__":
    from streamlit.starlette import App

    from formcheck.web import launcher
    from formcheck.web.server import MIDDLEWARE, lifespan

    launcher.prepare()
    app = App(__file__, middleware=MIDDLEWARE, lifespan=lifespan)
else:
    from formcheck.web.page_map import show

    show()
