#!/usr/bin/python3 -B
# SPDX-License-Identifier: MIT
"""A browser of WebKitGTK for WebKitWebDriver, with its data in the folder that is its argument.

MiniBrowser under a driver keeps nothing: a test that kills a browser and opens it again needs one that
does. Every page is a window of its own, with a process of its own.
"""

import sys

import gi

gi.require_version("Gtk", "3.0")
gi.require_version("WebKit2", "4.1")
from gi.repository import Gtk, WebKit2  # noqa: E402, the versions are chosen first


def main(folder):
    manager = WebKit2.WebsiteDataManager(base_data_directory=folder + "/data",
                                         base_cache_directory=folder + "/cache")
    context = WebKit2.WebContext(website_data_manager=manager)
    context.set_automation_allowed(True)

    def open_page(*_):
        view = WebKit2.WebView(web_context=context, is_controlled_by_automation=True)
        view.get_settings().set_property("enable-write-console-messages-to-stdout", True)
        window = Gtk.Window(default_width=1280, default_height=900)
        window.add(view)
        window.show_all()
        view.connect("close", lambda _: window.destroy())
        view.grab_focus()
        return view

    def start(_, session):
        session.connect("create-web-view", open_page)

    context.connect("automation-started", start)
    Gtk.main()


main(sys.argv[1])
