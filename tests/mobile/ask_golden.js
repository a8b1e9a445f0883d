async (cases) => {
  const load = (name) => import(`/static/records/mobile/judge/${name}.js`);
  const [exact, quantities, tolerance, normalising, duty, weighing, endurance, refusing] = await Promise.all(
    ["exact", "quantities", "tolerance", "normalise", "duty", "weighing", "endurance", "refused"].map(load),
  );
  const text = (value) => (value === null || value === undefined ? null : exact.exactText(value));
  const quantity = (data) => quantities.parseQuantity(data.value, data.unit);
  const runsOf = (runs) => runs.map(({ start_ms: start, stop_ms: stop }) => ({ start, stop }));
  const ofVerdict = (verdict) => ({
    outcome: verdict.outcome,
    reason: verdict.reason,
    unit: verdict.unit,
    value: text(verdict.value),
    margin: text(verdict.margin),
    acceptance_margin: text(verdict.acceptanceMargin),
  });
  const ask = {
    limit: (c) => ofVerdict(tolerance.judgeWritten(c.readings, c.limit, c.decision_rule)),
    normalise: (c) => {
      const runTime = normalising.runTimeFrom(c.run_time);
      const result = normalising.normalise(quantity(c.reading), quantity(c.took), runTime);
      return { valid: result.valid, value: text(result.amount.value), deviation_percent: text(result.deviation), reason: result.reason };
    },
    duty: (c) => ofVerdict(duty.judgeDuty(runsOf(c.runs), duty.dutyFrom(c.duty))),
    duty_state: (c) => {
      const state = duty.dutyState(runsOf(c.runs), duty.dutyFrom(c.duty), c.now_ms);
      return {
        running: state.running,
        on_ms: state.on,
        may_run_ms: state.mayRun,
        earliest_start_ms: state.earliestStart,
        full_run_from_ms: state.fullRunFrom,
        must_stop_ms: state.mustStop,
      };
    },
    weighing: (c) => {
      const table = weighing.densityTableFrom(c.density);
      const { amount, reason } = weighing.volumeOf(weighing.weighingFrom(c.weighing, table));
      return { value: text(amount.value), unit: amount.unit, reason };
    },
    endurance: (c) => ofVerdict(endurance.judgeEndurance(quantity(c.usable), c.flows.map(quantity), quantity(c.required))),
    dispatch: (c) => ofVerdict(endurance.judgeDispatch(quantity(c.indicated), c.flows.map(quantity), quantity(c.required))),
  };
  return cases.map((c) => {
    try {
      return ask[c.ask](c);
    } catch (refusal) {
      if (!(refusal instanceof refusing.Refused)) throw refusal;
      const explained = refusal.reasons.length > 0 && refusal.reasons.every((each) => each.field && each.remedy);
      return { outcome: "refused_input", code: refusal.code, explained };
    }
  });
}
