"""What is printed or exported.

Import from the modules: ``outputs`` (all files of a plan), ``plan_page``, ``plan_csv``,
``plan_json``, ``view`` (a plan with its squares looked up), ``folder`` (write a set of files),
``wording``. Nothing is imported here, so that words can be had without pictures.
"""
