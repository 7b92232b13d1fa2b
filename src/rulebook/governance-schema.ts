import { z } from 'zod';
import { ENTRIES, id } from './schema-parts.js';

/** The form of what a site decides about the rulebook: what speaks, within which limits, and who signed it. */

const text = z.string().regex(/\S/, 'a text');
const date = z.iso.date('a date such as 2026-11-02');

/** `off`: not evaluated. `silent`: evaluated, recorded, counted, not shown. `speak`: shown. The first is the strictest. */
export const STATES = ['off', 'silent', 'speak'] as const;
const state = z.enum(STATES);

/** Who decided it, when and why, and the last day on which it holds: nothing a site changes stays without a second look. */
const decided = { why: text, by: text, date, until: date };

/** The services a site decides about, by the ids it knows them under. */
export const SITE_SERVICES = ['hip-stability-booking', 'hip-stability-order', 'hip-stability-chart'] as const;

const servicesSchema = z.strictObject({
  'hip-stability-booking': state.optional(),
  'hip-stability-order': state.optional(),
  'hip-stability-chart': state.optional(),
} satisfies Record<(typeof SITE_SERVICES)[number], unknown>);

/** One line of plain text: it stands on a card. */
const note = z
  .string()
  .regex(/^[^\s<>[\]*_`|][^\n\r<>[\]*_`|]{0,199}$/, 'up to 200 characters without markup');

const ruleSettings = z
  .strictObject({
    state: state.optional(),
    /** The hooks it may speak at, of those it has. */
    hooks: z.array(z.enum(ENTRIES)).min(1).optional(),
    /** What its cards say besides. */
    note: note.optional(),
    /** An earlier day than its own after which its cards say that a review is overdue. */
    reviewBy: date.optional(),
    ...decided,
  })
  .refine(
    ({ state: to, hooks, note: said, reviewBy }) =>
      [to, hooks, said, reviewBy].some((one) => one !== undefined),
    'state, hooks, note or reviewBy',
  );

const localLimit = z.strictObject({ value: z.number(), unit: text, ...decided });

const approval = z.strictObject({
  by: text,
  role: text,
  date,
  contentHash: z.string().regex(/^sha256-[0-9a-f]{64}$/, 'sha256- and 64 hex digits'),
});

/** Members of a site file. */
export const governedMembers = {
  services: servicesSchema.optional(),
  rules: z.record(id, ruleSettings).optional(),
  parameters: z.record(id, localLimit).optional(),
  approvals: z.array(approval).optional(),
};

export type State = (typeof STATES)[number];
/** What a site sets for one rule. */
export type RuleSettings = z.infer<typeof ruleSettings>;
/** A limit of the rulebook as this site sets it. */
export type LocalLimit = z.infer<typeof localLimit>;
export type Approval = z.infer<typeof approval>;
