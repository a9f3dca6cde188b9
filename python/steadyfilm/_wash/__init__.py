"""Parts of the review of a washer: files to series by tank, charts of use, changes, and what is said of them."""
