"""What `streamlit run app.py` serves: loaded by the server, the checks before the page; run for a visitor, its map."""

import streamlit as st

if __name__ != "__main__":
    from streamlit.starlette import App

    from formcheck.page import launcher
    from formcheck.page.server import MIDDLEWARE, lifespan

    launcher.prepare()
    app = App(__file__, middleware=MIDDLEWARE, lifespan=lifespan)
else:
    from formcheck.core.process_memory import give_memory_back_now_and_then, set_modules_aside
    from formcheck.page import access, frame, launcher, store_notice

    launcher.prepare()
    set_modules_aside()
    give_memory_back_now_and_then()
    st.set_page_config(page_title="formcheck", page_icon=frame.ICON, layout="wide", initial_sidebar_state="collapsed")
    page = st.navigation(
        [
            st.Page("formcheck/page/review_set.py", title="Review a set", url_path="review", default=True),
            st.Page("formcheck/page/history.py", title="Reviewed sets", url_path="history"),
            st.Page("formcheck/page/clients.py", title="Clients", url_path="clients"),
            st.Page("formcheck/page/comparing.py", title="Compare", url_path="compare"),
            st.Page("formcheck/page/limits.py", title="Own limits", url_path="limits"),
            st.Page("formcheck/page/handing_over.py", title="Hand over", url_path="hand-over"),
            st.Page("formcheck/page/corrections.py", title="Correct by hand", url_path="correct", visibility="hidden"),
            st.Page("formcheck/page/cautions.py", title="Cautions", url_path="cautions"),
            st.Page("formcheck/page/filming.py", title="How to film", url_path="filming"),
        ],
        position="top",
    )
    frame.dress()
    access.admit()
    store_notice.stop_where_the_store_is_gone()
    with frame.told():
        page.run()
