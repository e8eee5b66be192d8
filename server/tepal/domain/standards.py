"""Whether a record has what a standard asks for: WPS, restricted-use, EU; as data.

Twin: web/app/core/standards.js (to come with the functions).

  STANDARDS           wps, commercial_restricted_use, eu, private_restricted_use (history)
  requirements(standard) -> rows              field, need (required | conditional | optional),
                                              citation, basis (read | memory | own)
  completeness(standard, application, establishment) -> Completeness
      .missing   rows that this record lacks, each with `why`
      .findings  late display, spot treatment, ... as Finding
      .display_by_ms .display_until_ms .convert_by .record_by .keep_until   None where not asked
  standards_for(application, establishment) -> the standards that apply, in order
"""
