"""A day's LUTs as one delivery: folders, a manifest, a colour config, metadata and hash lists.

`manifest` lists every LUT of a plan or a day with where it goes, `color_config` names each in
an OpenColorIO config, `amf` writes an ACES Metadata File for each main correction, `hash_list` an
ASC MHL over everything. `front.delivery` puts them into one folder.
"""
