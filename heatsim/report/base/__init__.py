# SPDX-License-Identifier: GPL-3.0-or-later
"""What all reports share: words and numbers as people read them (`words`), what is printed (`terminal`), JSON and folders
(`plain`), the style and files of pictures (`style`, `pictures`, `maps`), and the templates of pages (`page`).
"""
