"""Serve a daybook as pages: routes parse, call one thing, and present."""

import os

# Files that come in may be lists of others: GDAL is not to fetch what they name. It
# reads these when it is loaded, and workers get them from here.
os.environ["GDAL_SKIP"] = "WMS,WMTS,WCS,HTTP,PLMOSAIC,EEDA,EEDAI,DAAS,STACIT,STACTA"
os.environ["CPL_VSIL_CURL_ALLOWED_EXTENSIONS"] = ".nothing is fetched"
