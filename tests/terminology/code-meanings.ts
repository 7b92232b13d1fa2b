// Which fact each published concept means, written from the notes of the concepts and not from the value sets, so that
// a code that drops out of a value set is missed. Codes kept out on purpose are named with the reason.

export interface Meaning {
  readonly facts: readonly string[];
  /** Codes (and all below them) that do not mean it, and why. */
  readonly not?: Readonly<Record<string, string>>;
  /** Codes (and all below them) that leave the first fact unclear, and why. */
  readonly unclear?: Readonly<Record<string, string>>;
  /** Codes that mean the first fact only with a hip as body site, and why; without one they leave it unclear. */
  readonly sited?: Readonly<Record<string, string>>;
  /** ICD-10-CM injuries: the seventh characters that mean it. */
  readonly seventh?: string;
}

const NO_SITE = 'names no place: needs a body site';
const NO_JOINT = 'names no joint: needs a body site';
const CROSS_REFERENCE = 'read in a cross-reference only, without its own term';

export const CONDITIONS: Readonly<Record<string, Meaning>> = {
  'hip-osteoarthritis': {
    facts: ['hip-osteoarthritis'],
    not: { '68449006': 'arthritis of the hip of any kind' },
  },
  'hip-osteoarthritis-primary': { facts: ['hip-osteoarthritis'] },
  'hip-osteoarthritis-post-traumatic': { facts: ['hip-osteoarthritis'] },
  'hip-osteoarthritis-other-secondary': { facts: ['hip-osteoarthritis'] },
  'hip-osteoarthritis-dysplastic': { facts: ['hip-dysplasia'] },
  'femoral-neck-fracture': { facts: ['femoral-neck-fracture'], seventh: 'ABC' },
  'tumor-about-the-hip': { facts: ['hip-tumor'], seventh: 'ADGKP' },
  'bone-metastasis': { facts: ['hip-tumor'], sited: { 'C79.51': NO_SITE } },
  'femoral-neck-fracture-failed-fixation': {
    facts: ['failed-hip-fixation'],
    not: { '302941001': 'nonunion of any fracture' },
  },
  'femoral-head-osteonecrosis': { facts: ['femoral-head-osteonecrosis'] },
  'rheumatoid-arthritis-hip': { facts: ['inflammatory-arthritis'] },
  'inflammatory-arthritis': {
    facts: ['inflammatory-arthritis'],
    not: {
      'M08.1': 'a disease of the spine, told with the stiff spine',
      'M45.A': 'a disease of the spine',
      '784332006': 'of any place, the spine among them',
    },
  },
  'ankylosing-spondylitis': {
    facts: ['spine-ankylosis'],
    not: { 'M45.A': 'the spine is not stiff without radiographic change' },
  },
  'developmental-dysplasia-of-hip': { facts: ['hip-dysplasia'] },
  'slipped-capital-femoral-epiphysis': { facts: ['slipped-epiphysis'] },
  'perthes-disease': {
    facts: ['perthes-disease'],
    not: { '15739006': CROSS_REFERENCE, '240241003': CROSS_REFERENCE },
  },
  'parkinson-disease': { facts: ['parkinson-disease'] },
  'stroke-sequela-hemiplegia': { facts: ['paresis'] },
  'other-lower-limb-paralysis': { facts: ['paresis'] },
  dementia: { facts: ['dementia'] },
  'dementia-alzheimer': { facts: ['dementia'] },
  'dementia-vascular': { facts: ['dementia'] },
  'dementia-lewy-body': { facts: ['dementia'] },
  'dementia-frontotemporal': { facts: ['dementia'] },
  'dementia-parkinson': { facts: ['dementia'] },
  'multiple-sclerosis': { facts: ['multiple-sclerosis'] },
  'cerebral-palsy': { facts: ['cerebral-palsy'] },
  'muscular-dystrophy': { facts: ['muscular-dystrophy'] },
  'lumbar-spinal-stenosis': { facts: ['lumbar-spinal-stenosis'] },
  'lumbar-radiculopathy': { facts: ['lumbar-radiculopathy'] },
  myelopathy: { facts: ['myelopathy'] },
  'alcohol-use-disorder': { facts: ['alcohol-use-disorder'] },
  'psychotic-disorder': { facts: ['psychotic-disorder'] },
  'spinal-fusion-status': {
    facts: ['lumbar-fusion'],
    not: { 'M96.0': 'a fusion that failed, of any joint' },
    unclear: { 'Z98.1': 'fusion of any joint' },
  },
  'spine-ankylosis': {
    facts: ['spine-ankylosis'],
    not: { 'M45.A': 'the spine is not stiff without radiographic change' },
  },
  scoliosis: { facts: ['spine-deformity'] },
  kyphosis: { facts: ['spine-deformity'] },
  'vertebral-fracture': { facts: ['vertebral-fracture'], seventh: 'ABDG' },
  flatback: { facts: ['flatback', 'spine-deformity'] },
  'ehlers-danlos-hypermobility': {
    facts: ['hypermobility-syndrome'],
    not: { '85551004': CROSS_REFERENCE },
  },
  depression: { facts: ['depression'], not: { 'F32.81': 'premenstrual dysphoric disorder' } },
  'irradiation-history': {
    facts: ['pelvic-irradiation'],
    unclear: { 'Z92.3': 'irradiation of any site', '429479009': 'irradiation of any site' },
  },
  'superior-gluteal-nerve-injury': {
    facts: ['superior-gluteal-nerve-injury'],
    not: {
      'S74.8X': 'other nerves at hip and thigh level: never inferred from the bucket',
      'G57.8': 'other mononeuropathies of a lower limb: never inferred from the bucket',
      '57182000': 'injury of any nerve',
    },
  },
  'gluteal-tendon-tear-or-tendinopathy': {
    facts: ['abductor-tendon-tear'],
    not: {
      'M76.0': 'tendinitis, no tear',
      'M70.6': 'bursitis, no tear',
      '7674000': 'lateral hip pain, no tear',
      '424010006': 'tendinitis, no tear',
    },
    unclear: {
      'S76.01': 'some muscle or tendon of the hip',
      'S76.09': 'some muscle or tendon of the hip',
      'M66.85': 'some tendon of the thigh',
      '726218003': 'some tendon of the hip',
    },
  },
  'trendelenburg-gait-or-sign': {
    facts: ['trendelenburg-gait'],
    unclear: {
      'R26.89': 'a bucket',
      '250023006': 'a weaker relative',
      '271706000': 'a weaker relative',
      '432559006': 'a weaker relative',
      '16973004': 'a weaker relative',
      '249939004': 'a weaker relative',
    },
  },
  'greater-trochanter-fracture': { facts: ['greater-trochanter-fracture'], seventh: 'ABC' },
  'greater-trochanter-nonunion': {
    facts: ['greater-trochanter-nonunion'],
    not: { '302941001': 'nonunion of any fracture' },
  },
  'prosthesis-dislocation': {
    facts: ['prosthesis-dislocation'],
    not: { '213082003': 'dislocation of any prosthetic joint' },
  },
  'prosthesis-recurrent-dislocation': { facts: ['prosthesis-recurrent-dislocation'] },
  'prosthesis-instability': { facts: ['prosthesis-instability'] },
  'prosthesis-malposition': {
    facts: ['prosthesis-malposition'],
    unclear: { 'T84.090': 'other mechanical complication', 'T84.091': 'other mechanical complication' },
  },
  'prosthesis-breakage': { facts: ['prosthesis-breakage'] },
  'prosthesis-loosening': { facts: ['prosthesis-loosening'] },
  'periprosthetic-osteolysis': { facts: ['periprosthetic-osteolysis'], sited: { '441698009': NO_JOINT } },
  'prosthesis-wear': { facts: ['prosthesis-wear'], sited: { '441565006': NO_JOINT } },
  'periprosthetic-joint-infection': { facts: ['prosthesis-infection'], sited: { '213121005': NO_JOINT } },
  'periprosthetic-fracture': {
    facts: ['periprosthetic-fracture'],
    unclear: { 'M96.66': 'after any implant, at any part of the femur' },
    sited: { '441546003': NO_JOINT },
    seventh: 'AD',
  },
  'adverse-local-tissue-reaction': {
    facts: ['metal-debris-reaction'],
    unclear: {
      'T84.89': 'supporting evidence only',
      'T56.89': 'supporting evidence only',
      'R79.0': 'supporting evidence only',
    },
  },
  'heterotopic-ossification': {
    facts: ['heterotopic-ossification-diagnosis'],
    unclear: { 'M61.45': 'calcium in a muscle, which need not be bone' },
    sited: { '444748003': NO_SITE, '446496001': NO_SITE },
  },
  'native-hip-dislocation-or-instability': { facts: ['native-hip-dislocation'] },
  'hip-prosthesis-present': { facts: ['hip-prosthesis-present'] },
  'hip-prosthesis-explanted': { facts: ['hip-explantation'] },
  'leg-length-inequality': { facts: ['leg-length-inequality-diagnosis'] },
};

export const PROCEDURES: Readonly<Record<string, Meaning>> = {
  'hip-fracture-fixation': {
    facts: ['earlier-hip-fixation'],
    sited: { '57470004': NO_SITE, '272300006': NO_SITE, '86975004': NO_SITE },
  },
  'hip-osteotomy': {
    facts: ['hip-osteotomy'],
    unclear: { '0QS4': 'may reduce a fracture', '0QS5': 'may reduce a fracture' },
    sited: { '150062003': NO_SITE },
  },
  'closed-reduction-of-prosthesis': {
    facts: ['closed-reduction-of-prosthesis'],
    unclear: { '0SS9XZZ': 'names the native joint', '0SSBXZZ': 'names the native joint' },
  },
  'hip-explantation-or-spacer': { facts: ['hip-explantation'] },
  'lumbar-spinal-fusion': {
    facts: ['lumbar-fusion'],
    not: { '0SG7': 'the sacroiliac joint', '0SG8': 'the sacroiliac joint' },
    unclear: { '55705006': 'any level of the spine' },
  },
  'hip-abductor-repair': { facts: ['hip-abductor-repair'] },
  'pelvic-radiotherapy': {
    facts: ['pelvic-irradiation'],
    unclear: { DP09: 'any part of a femur' },
    sited: { '33195004': NO_SITE, '108290001': NO_SITE, '1156506007': NO_SITE },
  },
};

/** Concepts that no fact reads, and why. */
export const NOT_READ: Readonly<Record<string, string>> = {
  'femoral-neck-fracture-pathological':
    'ICD-10-CM says femur, not neck; the SNOMED CT codes stand with the neck',
  'proximal-femur-version-or-coxa-deformity': 'version is measured',
  'hip-contracture-or-ankylosis': 'range is measured',
  'parkinsonism-other': 'not Parkinson disease',
  'stroke-acute': 'in a problem list mostly a past stroke, deficit not told',
  'stroke-sequela-other': 'speech, swallowing and thought among them',
  'stroke-history-no-deficit': 'negative twin of paresis',
  'mild-cognitive-impairment': 'not dementia',
  epilepsy: 'no card for epilepsy',
  'poliomyelitis-sequela': 'left out of paresis',
  'peripheral-neuropathy': 'not listed as a trigger',
  'foot-drop': 'a proxy only',
  'lordosis-abnormal': 'too much lordosis is not a stiff spine',
  'alcohol-use-disorder-remission': 'negative twin of alcohol use disorder',
  'premenstrual-dysphoric-disorder': 'kept out of depression',
  obesity: 'body mass is measured',
  'marfan-syndrome': 'an optional extra of the list',
  osteoporosis: 'no fracture of a hip or vertebra by itself',
  falls: 'being at risk is included',
  'sciatic-nerve-lesion': 'a companion of the list',
  'prosthesis-mechanical-complication-other': 'the codes that leave malposition unclear',
  'hemiarthroplasty-present': 'the codes of a prosthesis in place',
  'hip-replacement-planned': 'read in appointments',
};
