import populationJson from './population.json' with { type: 'json' };
import { populationSchema } from './population-schema.js';
import type { Population } from './population-schema.js';

/** The numbers from which hips are drawn, as shipped. */
export const POPULATION: Population = populationSchema.parse(populationJson);
