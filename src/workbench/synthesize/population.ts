import { readShipped } from '../checked-file.js';
import { SHIPPED } from '../shipped-fixtures.js';
import { populationSchema } from './population-schema.js';
import type { Population } from './population-schema.js';

/** The numbers from which hips are drawn, as shipped. */
export const POPULATION: Population = readShipped(SHIPPED.population, populationSchema);
