"""What `streamlit run app.py` serves: loaded by the server, the checks before the page; run for a visitor, its map."""

import streamlit as st

if __name__ != "__main__":
    from streamlit.starlette import App

    from formcheck.web import launcher
    from formcheck.web.server import MIDDLEWARE, lifespan

    launcher.prepare()
    app = App(__file__, middleware=MIDDLEWARE, lifespan=lifespan)
else:
    from formcheck.core.process_memory import give_memory_back_now_and_then, set_modules_aside
    from formcheck.web import access, launcher, layout, store_notice

    launcher.prepare()
    set_modules_aside()
    give_memory_back_now_and_then()
    st.set_page_config(page_title="formcheck", page_icon=layout.ICON, layout="wide", initial_sidebar_state="collapsed")
    page = st.navigation(
        [
            st.Page("formcheck/web/pages/review_set.py", title="Review a set", url_path="review", default=True),
            st.Page("formcheck/web/pages/reviewed_sets.py", title="Reviewed sets", url_path="history"),
            st.Page("formcheck/web/pages/clients.py", title="Clients", url_path="clients"),
            st.Page("formcheck/web/pages/compare.py", title="Compare", url_path="compare"),
            st.Page("formcheck/web/pages/own_limits.py", title="Own limits", url_path="limits"),
            st.Page("formcheck/web/pages/hand_over.py", title="Hand over", url_path="hand-over"),
            st.Page(
                "formcheck/web/pages/correct_by_hand.py",
                title="Correct by hand",
                url_path="correct",
                visibility="hidden",
            ),
            st.Page("formcheck/web/pages/cautions.py", title="Cautions", url_path="cautions"),
            st.Page("formcheck/web/pages/how_to_film.py", title="How to film", url_path="filming"),
        ],
        position="top",
    )
    layout.dress()
    access.admit()
    store_notice.stop_where_the_store_is_gone()
    with layout.told():
        page.run()
