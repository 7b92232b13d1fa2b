import { z } from 'zod';

/** The form of what clinicians should decide first, and of the disagreements between sources that no rule settles. */
export const openQuestionsSchema = z.strictObject({
  signOff: z
    .array(
      z.strictObject({
        parameters: z.array(z.string().min(1)).min(1),
        question: z.string().min(1),
      }),
    )
    .min(1),
  conflicts: z
    .array(z.strictObject({ says: z.string().min(1), citations: z.array(z.string().min(1)).min(1) }))
    .min(1),
});

export type OpenQuestions = z.infer<typeof openQuestionsSchema>;
