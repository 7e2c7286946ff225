// SPDX-License-Identifier: Apache-2.0
#include "core/sequence/verb/ready.hpp"

#include "core/sequence/measure/ready.hpp"
#include "core/sequence/verb/adjust.hpp"
#include "core/sequence/verb/average.hpp"
#include "core/sequence/verb/capture.hpp"
#include "core/sequence/verb/compare.hpp"
#include "core/sequence/verb/decide.hpp"
#include "core/sequence/verb/diagnose.hpp"
#include "core/sequence/verb/each_row.hpp"
#include "core/sequence/verb/enclose.hpp"
#include "core/sequence/verb/judge.hpp"
#include "core/sequence/verb/make_safe.hpp"
#include "core/sequence/verb/measure.hpp"
#include "core/sequence/verb/note.hpp"
#include "core/sequence/verb/part.hpp"
#include "core/sequence/verb/prompt.hpp"
#include "core/sequence/verb/prove.hpp"
#include "core/sequence/verb/repeat.hpp"
#include "core/sequence/verb/route.hpp"
#include "core/sequence/verb/set_up.hpp"
#include "core/sequence/verb/switch_on.hpp"
#include "core/sequence/verb/together.hpp"
#include "core/sequence/verb/wait_for.hpp"
#include "core/sequence/verb/work_out.hpp"

namespace eyelevel::sequence {

void register_ready_verbs(Verbs& verbs) {
  register_set_up(verbs);
  register_prompt(verbs);
  register_wait_for(verbs);
  register_capture(verbs);
  register_measure(verbs);
  register_judge(verbs);
  register_adjust(verbs);
  register_average(verbs);
  register_compare(verbs);
  register_work_out(verbs);
  register_if(verbs);
  register_repeat(verbs);
  register_each_row(verbs);
  register_part(verbs);
  register_together(verbs);
  register_in_this_order(verbs);
  register_finish(verbs);
  register_note(verbs);
  register_diagnose(verbs);
  register_enclose(verbs);
  register_prove(verbs);
  register_switch_on(verbs);
  register_switch_off(verbs);
  register_route(verbs);
  register_make_safe(verbs);
  for (const std::string& name : verbs.names()) verbs.add_key(name, resume_here_key());
}

Language ready_language() {
  Language language;
  register_ready_verbs(language.verbs);
  register_ready_measures(language.measures);
  return language;
}

}  // namespace eyelevel::sequence
